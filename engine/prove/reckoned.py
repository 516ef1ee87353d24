"""What is known of reckoned facts without reckoning them: the bounds of free numbers.

Each entry holds for every input, so nothing that can happen is left out; what it lets happen
beyond that is caught where a car found is put to the evaluator. Reckonings without an entry may
come to anything, fail, or not apply.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from fractions import Fraction
from itertools import product
from typing import TYPE_CHECKING, Any

import z3

from engine.ruleset.coats import PaintSystem
from engine.ruleset.model import FactSpec

if TYPE_CHECKING:
    from engine.prove.encode import Encoding, FactState

Formula = Any
Known = Callable[["Bounds"], list[Formula]]


class Bounds:
    """One reckoned fact and what stands beside it."""

    def __init__(
        self,
        encoding: Encoding,
        state: FactState,
        ready: Formula,
        failed: Formula,
        nothing: Formula,
    ) -> None:
        self._encoding = encoding
        self.state = state
        self.ready, self.failed, self.nothing = ready, failed, nothing

    @property
    def value(self) -> Formula:
        return self.state.number

    def fact(self, name: str) -> Formula | None:
        """The number of another fact that is worked out before this one."""
        state = self._encoding.facts.get(name)
        return None if state is None else state.number

    def choice(self, name: str, choice: str) -> Formula:
        return self._encoding.facts[name].choices[choice]

    def limit(self, name: str) -> Formula:
        return _exact(self._encoding.ruleset.limits[name].amount)

    def films(self, system: PaintSystem, way: str) -> Iterator[tuple[Formula, Fraction]]:
        """The film that the coats of a paint system leave, and on which panels."""
        asked = dict.fromkeys(fact for coat in system.coats[way] for fact in coat.asks)
        choices = [self._encoding.facts[fact].choices for fact in asked]
        panels: dict[Fraction, list[Formula]] = {}
        for chosen in product(*((None, *each) for each in choices)):
            panel = dict(zip(asked, chosen, strict=True))
            coats = system.coats_on(way, panel.get)
            film = sum((coat.film for coat in coats), Fraction(0))
            panels.setdefault(film, []).append(
                z3.And(*(
                    each[choice] if choice else z3.Not(z3.Or(*each.values()))
                    for each, choice in zip(choices, chosen, strict=True)
                ))
            )  # fmt: skip
        for film, which in panels.items():
            yield z3.Or(*which), film

    def by_system(self, formula: Callable[[Formula], Formula], way: str) -> list[Formula]:
        """What `formula` says of the film of each system, where that system is to come."""
        choices = self._encoding.facts["car.topcoat"].choices
        return [
            z3.Implies(z3.And(choices[system.id], where), formula(_exact(film)))
            for system in self._encoding.ruleset.systems.values()
            if system.id in choices
            for where, film in self.films(system, way)
        ]


def reckoned_constraints(
    encoding: Encoding,
    spec: FactSpec,
    state: FactState,
    ready: Formula,
    failed: Formula,
    nothing: Formula,
) -> list[Formula]:
    """What holds of a reckoned fact whatever it is reckoned from."""
    known = _KNOWN.get(spec.reckoned or "")
    if known is None:
        return []
    return known(Bounds(encoding, state, ready, failed, nothing))


def _exact(number: Fraction) -> Formula:
    return z3.Q(number.numerator, number.denominator)


def _sure(bounds: Bounds) -> list[Formula]:
    """It never fails and always applies."""
    return [z3.Not(bounds.failed), z3.Not(bounds.nothing)]


def _survey(bounds: Bounds) -> list[Formula]:
    """Low, typical, high, spread and number of the spots fit together."""
    low, typical, high = (bounds.fact(f"film.{name}") for name in ("low", "typical", "high"))
    spread, spots = bounds.fact("film.spread"), bounds.fact("film.spots")
    found = _sure(bounds)
    for below, above in ((low, typical), (typical, high), (low, high)):
        if below is not None and above is not None:
            found.append(below <= above)
    if spread is not None and low is not None and high is not None:
        found.append(spread == high - low)
    if spots is not None:
        found.append(spots >= 1)
        if low is not None and high is not None:
            found.append(z3.Implies(spots == 1, low == high))
            if typical is not None:
                found.append(z3.Implies(spots == 2, 2 * typical == low + high))
    return found


def _this_survey(name: str) -> Known:
    def known(bounds: Bounds) -> list[Formula]:
        # The fact itself is not among the facts yet, while the others of the survey may be.
        return _survey(_Including(bounds, f"film.{name}"))

    return known


class _Including(Bounds):
    """Bounds in which the fact being worked out can be named as well."""

    def __init__(self, bounds: Bounds, name: str) -> None:
        super().__init__(
            bounds._encoding, bounds.state, bounds.ready, bounds.failed, bounds.nothing
        )
        self._name = name

    def fact(self, name: str) -> Formula | None:
        return self.value if name == self._name else super().fact(name)


def _history(bounds: Bounds) -> list[Formula]:
    choices = bounds.state.choices
    typical, spread = bounds.fact("film.typical"), bounds.fact("film.spread")
    spots = bounds.fact("film.spots")
    found = [z3.Not(bounds.nothing)]
    if spots is not None:
        few = z3.ToReal(spots) < bounds.limit("film.spots-for-history")
        found.append(z3.Implies(bounds.ready, z3.Implies(z3.Not(few), z3.Not(bounds.failed))))
        found.append(z3.Implies(z3.And(bounds.ready, few), bounds.failed))
    if typical is not None:
        thin, high = bounds.limit("film.thin-below"), bounds.limit("film.factory-high")
        found += [
            z3.Implies(choices["thin"], typical < thin),
            z3.Implies(choices["repainted"], typical > high),
            z3.Implies(choices["factory-like"], z3.And(typical >= thin, typical <= high)),
        ]
    if spread is not None:
        wide = spread > bounds.limit("film.spread-limit")
        found += [z3.Implies(wide, choices["mixed"]), z3.Implies(choices["mixed"], spread > 0)]
    return found


def _odd_spots(bounds: Bounds) -> list[Formula]:
    spots, spread = bounds.fact("film.spots"), bounds.fact("film.spread")
    share = bounds.limit("film.odd-share") / 100
    found = [z3.Not(bounds.failed), bounds.value >= 0]
    if spots is not None:
        enough = z3.ToReal(spots) >= bounds.limit("film.spots-for-odd")
        found.append(z3.Implies(bounds.ready, bounds.nothing == z3.Not(enough)))
        found.append(z3.ToReal(bounds.value) <= z3.ToReal(spots) * share)
    if spread is not None:
        found.append(z3.Implies(spread == 0, bounds.value == 0))
    return found


def _if_sanded(bounds: Bounds) -> list[Formula]:
    film, off = bounds.fact("film.typical"), bounds.limit("build.sanded-off")
    left = z3.If(film < off, 0, film - off)
    return _sure(bounds) + bounds.by_system(lambda new: bounds.value == left + new, "if-sanded")


def _if_partly_stripped(bounds: Bounds) -> list[Formula]:
    film, kept = bounds.fact("film.typical"), bounds.limit("film.undercoat-left")
    left = z3.If(film < kept, film, kept)
    way = "if-partly-stripped"
    return _sure(bounds) + bounds.by_system(lambda new: bounds.value == left + new, way)


def _if_stripped(bounds: Bounds) -> list[Formula]:
    return _sure(bounds) + bounds.by_system(lambda new: bounds.value == new, "if-stripped")


def _must_come_off(bounds: Bounds) -> list[Formula]:
    film, top = bounds.fact("film.typical"), bounds.limit("film.overcoat-limit")

    def known(new: Formula) -> Formula:
        over = film + new - top
        exact = bounds.value == z3.If(over > 0, over, 0)
        return z3.If(new > top, z3.Implies(bounds.ready, bounds.failed), exact)

    fails = bounds.by_system(lambda new: z3.Implies(new <= top, z3.Not(bounds.failed)), "if-sanded")
    return [z3.Not(bounds.nothing), *fails, *bounds.by_system(known, "if-sanded")]


def _deepest(bounds: Bounds) -> list[Formula]:
    return [*_sure(bounds), bounds.value >= 0]


def _dew_point(bounds: Bounds) -> list[Formula]:
    air = bounds.fact("shop.air-temperature")
    return [z3.Not(bounds.nothing), bounds.value <= air] if air is not None else []


def _dew_margin(bounds: Bounds) -> list[Formula]:
    surface, dew = bounds.fact("shop.surface-temperature"), bounds.fact("air.dew-point")
    found = [z3.Not(bounds.nothing)]
    if surface is not None and dew is not None:
        found.append(bounds.value == surface - dew)
    return found


_KNOWN: Mapping[str, Known] = {
    **{
        f"film.{name}": _this_survey(name) for name in ("spots", "low", "typical", "high", "spread")
    },
    "film.history": _history,
    "film.odd-spots": _odd_spots,
    "build.if-sanded": _if_sanded,
    "build.if-partly-stripped": _if_partly_stripped,
    "build.if-stripped": _if_stripped,
    "build.must-come-off": _must_come_off,
    "filler.deepest": _deepest,
    "air.dew-point": _dew_point,
    "air.dew-margin": _dew_margin,
}

RECKONINGS_BOUNDED = frozenset(_KNOWN)
"""The reckonings of which more is known than that they come to something."""
