"""Condition ratings by the standards, from measured shares."""

from __future__ import annotations

from fractions import Fraction

from cli.reckon.answer import Answer
from cli.reckon.reckoning import RuleBook, choice_option, option, reckoning
from engine.errors import ReckoningError
from engine.quantity import Kind, Quantity, show
from engine.reckoning import ratings
from engine.reckoning.tables import pick

_BANDS = ("grade", "low", "low-included", "high", "high-included")
_CUTS = ("method", "base", "over-um", "up-to-um", "cuts", "spacing-mm", "smooth-only")


def _bands(book: RuleBook, name: str) -> list[ratings.Band]:
    return [ratings.Band(*row) for row in pick(book.table(name), "grades", *_BANDS)]


def _references(book: RuleBook, name: str) -> list[ratings.Reference]:
    rows = pick(book.table(name), "degrees", "grade", "percent")
    return [ratings.Reference(*row) for row in rows]


@reckoning(
    "rust",
    option("--share", Kind.PERCENT, "surface visibly rusted, stains left out; estimate it",
           required=True),
    choice_option("--spread", ("S", "G", "P", "H"),
                  "how it is spread: spot, general, pinpoint, hybrid (ASTM D610)"),
)  # fmt: skip
def rust(book: RuleBook, share: Quantity, spread: str | None) -> Answer:
    """Rust grade of ASTM D610 with its letter, and degree of rusting of ISO 4628-3."""
    answer = Answer(
        "Rust", "grade by percent of the surface rusted", "ASTM D610-08(2019); ISO 4628-3 (2016)"
    )
    table = book.table("ratings.d610-grades")
    plain = [grade for grade, letter in pick(table, "grades", "grade", "letter") if not letter]
    letters = pick(book.table("ratings.d610-distributions"), "letters", "letter", "name")
    grade = ratings.rust_grade(
        share.amount,
        distribution=spread,
        bands=_bands(book, "ratings.d610-grades"),
        without_letter=plain,
        letters=dict(letters),
    )
    answer.word("ASTM D610", grade)
    degree = ratings.rated_by_reference(
        share.amount, references=_references(book, "ratings.iso4628-3-rust")
    )
    answer.word("ISO 4628-3", f"Ri {degree}")
    answer.note("The two scales run opposite ways: Ri 0 is no rust, and so is the highest grade.")
    return answer


@reckoning(
    "flaking",
    option("--share", Kind.PERCENT, "surface flaked; estimate it", required=True),
    option("--size", Kind.DEPTH, "largest dimension of the flakes; measure it", required=True),
)
def flaking(book: RuleBook, share: Quantity, size: Quantity) -> Answer:
    """Quantity and size of flaking by ISO 4628-5."""
    answer = Answer(
        "Flaking", "degree by percent flaked, class by largest flake", "ISO 4628-5 (2016)"
    )
    degree = ratings.rated_by_reference(
        share.amount, references=_references(book, "ratings.iso4628-5-flaking")
    )
    sizes = pick(book.table("ratings.iso4628-5-size"), "sizes", "class", "up-to-mm")
    millimetres = size.amount / 1000
    if degree and not millimetres:
        raise ReckoningError("--size is 0 though paint has flaked; measure the largest flake")
    found = next(name for name, top in sizes if top is None or millimetres <= Fraction(top))
    answer.word("ISO 4628-5", f"{degree}(S{found})" if degree else "0")
    return answer


@reckoning(
    "adhesion",
    option("--lost", Kind.PERCENT, "area of the lattice lost; compare it with the pictures",
           required=True),
)  # fmt: skip
def adhesion(book: RuleBook, lost: Quantity) -> Answer:
    """Cross-cut classes of ISO 2409 and ASTM D3359, which part at the boundaries."""
    answer = Answer(
        "Adhesion", "class by percent of the lattice detached", "ISO 2409 (2020); ASTM D3359-23"
    )
    iso = ratings.graded(
        lost.amount, bands=_bands(book, "ratings.iso2409-classes"), shared="better"
    )
    astm = ratings.graded(
        lost.amount, bands=_bands(book, "ratings.d3359-b-classes"), shared="worse"
    )
    answer.word("ISO 2409", f"class {iso}, 0 is best")
    answer.word("ASTM D3359, method B", f"{astm}, 5B is best")
    answer.note("The scales run opposite ways and part where a share lies exactly on a boundary.")
    return answer


@reckoning(
    "cut-test",
    option(
        "--film",
        Kind.THICKNESS,
        "film at the place; read it with a gauge",
        required=True,
        like="film.readings",
    ),
    choice_option("--base", ("hard", "soft"), "what is under it: hard is metal or plastic"),
    choice_option("--texture", ("smooth", "textured"), "surface of the film", required=True),
)
def cut_test(book: RuleBook, film: Quantity, base: str | None, texture: str) -> Answer:
    """Which cut test suits a film and how far apart its cuts are, by two standards."""
    if not film.amount:
        raise ReckoningError("--film is 0: there is no paint to cut; read it with a gauge")
    answer = Answer("Cut test", "spacing by film thickness", "ASTM D3359-23; ISO 2409 (2020)")
    for name, table in (
        ("ASTM D3359", "ratings.d3359-tests"),
        ("ISO 2409", "ratings.iso2409-tests"),
    ):
        rows = [ratings.CutRow(*row) for row in pick(book.table(table), "tests", *_CUTS)]
        try:
            row = ratings.adhesion_test(
                film.amount,
                base=base,  # type: ignore[arg-type]
                textured=texture == "textured",
                rows=rows,
                unit=film.unit or "um",
            )
        except ReckoningError as error:
            answer.word(name, error.format_message())
            continue
        cuts = "X-cut" if row.cuts is None else f"{row.cuts} cuts, {row.spacing_mm} mm apart"
        answer.word(name, f"method {row.method}: {cuts}")
    at = show(film.amount, Kind.THICKNESS, film.unit)
    answer.note(
        f"For a film of {at}.", "The test destroys the film: cut where it comes off anyway."
    )
    return answer


@reckoning(
    "blisters",
    option("--size", Kind.COUNT, "size by the pictures of ASTM D714; 10 is none", required=True),
    choice_option("--frequency", ("F", "M", "MD", "D"),
                  "few, medium, medium dense or dense, by the pictures of ASTM D714"),
)  # fmt: skip
def blisters(book: RuleBook, size: Quantity, frequency: str | None) -> Answer:
    """An ASTM D714 rating as ISO 4628-2 writes it: density and size."""
    answer = Answer("Blisters", "pairs of pictures", "ISO 4628-2 (2016), Annex A (from memory)")
    sizes = pick(book.table("ratings.d714-size"), "sizes", "d714", "iso4628-2")
    frequencies = pick(book.table("ratings.d714-frequency"), "frequencies", "d714", "iso4628-2")
    rating = ratings.blister_rating(
        int(size.amount),
        frequency,
        sizes=[(a, b) for a, b in sizes],
        frequencies=[(a, b) for a, b in frequencies],
        # ASTM D714 fixes 10 as the size of no blisters at all: the end of its scale.
        none_size=10,
    )
    answer.word("ISO 4628-2", rating)
    return answer
