"""Rust and adhesion on the scales of the standards, and the cut test that suits the film."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction

from engine.errors import ReckoningError
from engine.reckoning.inputs import Number, show
from engine.reckoning.memory import kept_by_identity
from engine.reckoning.ratings import (
    Band,
    CutRow,
    Reference,
    adhesion_test,
    corresponding,
    graded,
    rated_by_reference,
    turned,
)
from engine.reckoning.reckoners.base import Given, Reckoner
from engine.reckoning.tables import pick
from engine.ruleset.model import RuleSet, Table

_FILM = "film.typical"
_ASTM_TESTS = "ratings.d3359-tests"
_ISO_TESTS = "ratings.iso2409-tests"
_D610 = "ratings.d610-grades"
_ISO_RUST = "ratings.iso4628-3-rust"
_CLASSES = "ratings.d3359-iso2409"

# --- rust -----------------------------------------------------------------------------------------


def _rust_grade(given: Given) -> Fraction:
    rows = pick(
        given.table(_D610),
        "rust grades",
        *("grade", "low", "low-included", "high", "high-included"),
    )
    grade = graded(given.values["rust-area"], bands=[Band(*row) for row in rows], shared="worse")
    return Fraction(grade)


def _rust_degree(given: Given) -> Fraction:
    rows = pick(given.table(_ISO_RUST), "degrees of rusting", "grade", "percent")
    references = [Reference(*row) for row in rows]
    return Fraction(rated_by_reference(given.values["rust-area"], references=references))


# --- adhesion -------------------------------------------------------------------------------------


def _astm_class(given: Given) -> str:
    """The letter class beside an ISO 2409 class; the two scales run opposite ways."""
    told = given.values["adhesion-class"]
    if told.denominator != 1:
        raise ReckoningError(
            f"A cross-cut class is a whole number, not {show(told)}; compare the lattice with the "
            "pictures again and give the worse of the two classes."
        )
    pairs = pick(given.table(_CLASSES), "cross-cut classes", "d3359", "iso2409")
    return str(corresponding(int(told), pairs=turned([(astm, iso) for astm, iso in pairs])))


@kept_by_identity
def _cut_rows(table: Table) -> tuple[CutRow, ...]:
    columns = ("method", "base", "over-um", "up-to-um", "cuts", "spacing-mm", "smooth-only")
    rows = (CutRow(*row) for row in pick(table, "adhesion tests", *columns))
    return tuple(replace(row, over=Fraction(row.over), up_to=_exact(row.up_to)) for row in rows)


def _exact(up_to: Number | None) -> Fraction | None:
    return None if up_to is None else Fraction(up_to)


@kept_by_identity
def _astm_test(film: Fraction, ruleset: RuleSet) -> CutRow:
    # What lies under the film on a vehicle is hard, and ASTM D3359 bars no texture.
    return adhesion_test(
        film, base="hard", textured=False, rows=_cut_rows(ruleset.tables[_ASTM_TESTS])
    )


def _test(given: Given) -> str:
    cuts = _astm_test(given.values[_FILM], given.ruleset).cuts
    return "x-cut" if cuts is None else "cross-cut"


def _cuts(given: Given) -> Fraction | None:
    cuts = _astm_test(given.values[_FILM], given.ruleset).cuts
    return None if cuts is None else Fraction(cuts)


def _spacing(given: Given) -> Fraction | None:
    """In mm, as the standards give it."""
    return _in_mm(_astm_test(given.values[_FILM], given.ruleset))


def _iso_spacing(given: Given) -> Fraction | None:
    """The spacing of ISO 2409 on a smooth film; None where the film is beyond the method."""
    rows = _cut_rows(given.table(_ISO_TESTS))
    film = given.values[_FILM]
    if all(row.up_to is not None and film > row.up_to for row in rows):
        return None
    return _in_mm(adhesion_test(film, base="hard", textured=False, rows=rows))


def _in_mm(row: CutRow) -> Fraction | None:
    return None if row.spacing_mm is None else Fraction(row.spacing_mm)


RECKONERS: Mapping[str, Reckoner] = {
    "rust.grade": Reckoner(("rust-area",), _rust_grade, tables=(_D610,)),
    "rust.degree": Reckoner(("rust-area",), _rust_degree, tables=(_ISO_RUST,)),
    "adhesion.astm-class": Reckoner(("adhesion-class",), _astm_class, tables=(_CLASSES,)),
    "adhesion.test": Reckoner((_FILM,), _test, tables=(_ASTM_TESTS,)),
    "adhesion.cuts": Reckoner((_FILM,), _cuts, tables=(_ASTM_TESTS,)),
    "adhesion.spacing": Reckoner((_FILM,), _spacing, tables=(_ASTM_TESTS,)),
    "adhesion.iso-spacing": Reckoner((_FILM,), _iso_spacing, tables=(_ISO_TESTS,)),
}
