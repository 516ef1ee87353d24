"""The film with new coats on, and the filler of a hollow."""

from __future__ import annotations

from cli.reckon.answer import Answer
from cli.reckon.reckoning import RuleBook, choice_option, option, reckoning
from engine.errors import ReckoningError
from engine.quantity import Kind, Quantity
from engine.reckoning import filler as filling
from engine.reckoning.build import ecoat_guard, forecast, must_come_off, new_film, over_limit
from engine.reckoning.mixing import hardener_mass_g, hardener_percent
from engine.reckoning.tables import pick

_UM_PER_MM = 1000
_ML_PER_L = 1000
_MINUTES = 60


@reckoning(
    "build",
    option("--film", Kind.THICKNESS, "film now on the panel; read it with a gauge", required=True,
           like="film.readings"),
    option("--coat", Kind.THICKNESS, "dry film of a new coat; see its data sheet; once a coat",
           multiple=True, required=True),
    option("--sanded", Kind.THICKNESS, "what sanding takes, instead of the rule set's figure"),
    option("--limit", Kind.THICKNESS, "film limit, instead of the rule set's"),
    choice_option("--substrate", ("steel", "galvanised-steel", "aluminium"),
                  "what the panel is made of, for the distance to the e-coat"),
)  # fmt: skip
def build(
    book: RuleBook,
    film: Quantity,
    coat: tuple[Quantity, ...],
    sanded: Quantity | None,
    limit: Quantity | None,
    substrate: str | None,
) -> Answer:
    """The film after sanding and new coats, what must come off first, how near the e-coat is."""
    off = book.limit("build.sanded-off") if sanded is None else sanded.amount
    top = book.limit("film.overcoat-limit") if limit is None else limit.amount
    coats = [each.amount for each in coat]
    unit = film.unit
    answer = Answer(
        "Film build",
        "T = E - S + sum(N): existing, less sanded, plus new coats",
        "arithmetic; the limit it is held against is common practice",
    )
    total = forecast(film.amount, coats, sanded=off, unit=unit)
    over = over_limit(total, limit=top)
    answer.measure("New coats", new_film(coats), Kind.THICKNESS, unit)
    answer.measure("Film afterwards", total, Kind.THICKNESS, unit)
    answer.measure("Over the limit by", over, Kind.THICKNESS, unit)
    least = must_come_off(film.amount, coats, limit=top, unit=unit)
    answer.measure("Must come off first", least, Kind.THICKNESS, unit)
    if substrate is None:
        answer.note("Give --substrate to see how near the e-coat is.")
        return answer
    rows = pick(book.table("film.under-coats"), "under coats", "substrate", "ecoat-um", "zinc-um")
    under = {name: (ecoat, zinc) for name, ecoat, zinc in rows}
    if substrate not in under:
        raise ReckoningError(f"the table of coats under the paint has no row for {substrate}")
    ecoat, zinc = under[substrate]
    guard = ecoat_guard(film.amount, ecoat=ecoat, zinc=zinc, margin=book.limit("film.ecoat-margin"))
    answer.measure("Machine sanding ends at", guard.floor, Kind.THICKNESS, unit)
    if guard.near or guard.above < off:
        answer.word("E-coat", "in reach of the sanding: go by hand, or take less")
    else:
        answer.measure("Above that", guard.above, Kind.THICKNESS, unit)
    return answer


@reckoning(
    "filler",
    option(
        "--area", Kind.AREA, "area of the hollow; measure it", required=True, like="filler.area"
    ),
    option(
        "--depth",
        Kind.DEPTH,
        "deepest point; lay a straightedge over it",
        required=True,
        like="filler.readings",
    ),
    choice_option("--shape", tuple(filling.FILLED_SHARE), "shape of the hollow", required=True),
    option(
        "--between", Kind.TIME, "wait between layers, for the waiting in all; see the data sheet"
    ),
)
def filler(
    book: RuleBook,
    area: Quantity,
    depth: Quantity,
    shape: filling.Shape,
    between: Quantity | None,
) -> Answer:
    """Litres, layers and hardener for a hollow, and whether the metal is worked instead."""
    answer = Answer(
        "Filler",
        "V = area * depth * share(shape) / (1 - share sanded off); layers = depth / thickest layer",
        "geometry (slab 1, paraboloid and trough 1/2, cone 1/3); limits as below",
    )
    for flag, given in (("--area", area), ("--depth", depth)):
        if not given.amount:
            raise ReckoningError(f"{flag} is 0: there is nothing to fill; measure the hollow")
    deep = depth.amount / _UM_PER_MM
    most = book.limit("filler.depth-limit") / _UM_PER_MM
    if filling.rework_metal(deep, limit_mm=most):
        answer.word("Metal", "deeper than filler may be: work the metal first")
    litres = filling.volume(
        area.amount,
        depth_mm=deep,
        shape=shape,
        sanded_away_percent=book.limit("filler.sanded-away"),
    )
    grams = filling.mass(litres, density_g_per_ml=book.limit("filler.density") / _ML_PER_L)
    answer.measure("Filler to put on", litres, Kind.VOLUME)
    answer.measure("That is", grams, Kind.MASS)
    answer.measure(
        "Hardener",
        filling.hardener(
            grams,
            percent_by_mass=book.limit("filler.hardener-share"),
            least_percent=book.limit("filler.hardener-least"),
            most_percent=book.limit("filler.hardener-most"),
        ),
        Kind.MASS,
    )
    thickest = book.limit("filler.layer-limit") / _UM_PER_MM
    count = filling.layers(deep, layer_limit_mm=thickest)
    answer.number("Layers", count)
    wait = book.limit("filler.prime-over-delay")
    answer.measure("Then wait before primer", wait, Kind.TIME)
    if between is not None:
        minutes = filling.filling_minutes(
            count, between_layers=between.amount * _MINUTES, before_primer=wait * _MINUTES
        )
        answer.measure("Waiting in all", minutes / _MINUTES, Kind.TIME)
    answer.note("Time alone never makes filler ready: press a fingernail into it first.")
    return answer


@reckoning(
    "hardener",
    option("--filler", Kind.MASS, "filler on the board; weigh it", required=True),
    option("--added", Kind.MASS, "hardener put to it; weigh it"),
)
def hardener(book: RuleBook, filler: Quantity, added: Quantity | None) -> Answer:
    """Grams of hardener for filler on the board, and what a weighed amount comes to."""
    answer = Answer(
        "Hardener", "hardener = filler * share; share = hardener / filler", "arithmetic, by mass"
    )
    share = book.limit("filler.hardener-share")
    grams = hardener_mass_g(filler.amount, hardener_percent=share)
    answer.measure("Hardener wanted", grams, Kind.MASS, filler.unit)
    if added is None:
        return answer
    found = hardener_percent(filler.amount, added.amount)
    least, most = book.limit("filler.hardener-least"), book.limit("filler.hardener-most")
    answer.measure("Added", found, Kind.PERCENT)
    word = "too little: it stays soft" if found < least else "within the limits"
    answer.word("Verdict", "too much: it bleeds through paint" if found > most else word)
    answer.note("The filler's data sheet decides; mix again rather than add to a mix that has set.")
    return answer
