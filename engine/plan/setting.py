"""What a plan knows of its job: facts, areas, sides, the paint system, units to show things in."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from fractions import Fraction
from functools import cached_property
from math import ceil

from engine.decision import Decision
from engine.errors import ReckoningError
from engine.plan.notes import Notes
from engine.plan.units import Units
from engine.quantity import Kind
from engine.reckoning.tables import pick
from engine.ruleset.coats import Coat
from engine.ruleset.model import RuleSet
from engine.ruleset.work import Span
from engine.words import say, sentence

AREA = "area"
TOPCOAT = "car.topcoat"
BOOTH = "shop.spray-booth"
SURFACE_TEMPERATURE = "shop.surface-temperature"
AIR_TEMPERATURE = "shop.air-temperature"
REGION = "shop.region"
PANEL_AREAS = "plan.panel-areas"
SIDES = "plan.sides"
THE_CAR = sentence("car")

# A list of more panels is shortened to so many.
_NAMED = 3
_WORD = re.compile(r"[^\W_]+")


class Setting:
    """A decision and the rule set it came from, read for planning."""

    def __init__(self, ruleset: RuleSet, decision: Decision, notes: Notes) -> None:
        self.ruleset = ruleset
        self.decision = decision
        self.notes = notes
        self._areas: dict[str, Span | None] = {}
        self.units = Units(ruleset, self.choice(REGION))

    # --- facts --------------------------------------------------------------------------------

    def number(self, fact: str, panel: str | None = None) -> Fraction | None:
        """The number a fact has, in the base unit; None where it is not known."""
        found = self.decision.car if panel is None else self.decision.panels[panel].found
        shown = found.facts.get(fact)
        return shown.value if shown and isinstance(shown.value, Fraction) else None

    def choice(self, fact: str) -> str | None:
        """The choice a fact of the car or shop has; None where it is not known."""
        shown = self.decision.car.facts.get(fact)
        return shown.value if shown and isinstance(shown.value, str) else None

    def panel_choice(self, panel: str) -> Callable[[str], str | None]:
        """What the choice of each fact of a panel is; None where it is not known."""
        facts = self.decision.panels[panel].found.facts

        def choice(fact: str) -> str | None:
            shown = facts.get(fact)
            return shown.value if shown and isinstance(shown.value, str) else None

        return choice

    def coats_on(self, panel: str) -> tuple[Coat, ...]:
        """The coats of the paint system for what is done to the panel; none where that is open."""
        treatment = self.decision.panels[panel].treatment
        way = self.ruleset.treatments[treatment].coats if treatment else None
        system = self.ruleset.systems.get(self.choice(TOPCOAT) or "")
        return system.coats_on(way, self.panel_choice(panel)) if system and way else ()

    def limit(self, name: str) -> Fraction:
        """A limit in the base unit. Raises ReckoningError where the rule set has none."""
        return limit_of(self.ruleset, name)

    # --- panels -------------------------------------------------------------------------------

    def counted(self, panels: Sequence[str]) -> Sequence[str]:
        """What rates of a step run over: its panels, or those to be painted for one of the car."""
        return panels or self._painted

    @cached_property
    def _painted(self) -> tuple[str, ...]:
        treatments = self.ruleset.treatments
        return tuple(
            name
            for name, panel in self.decision.panels.items()
            if panel.treatment is not None and treatments[panel.treatment].coats is not None
        )

    def area(self, panel: str) -> Span | None:
        """The area of a panel in m2: as told, else by the table of panel areas, else None."""
        if panel not in self._areas:
            self._areas[panel] = self._find_area(panel)
        return self._areas[panel]

    def _find_area(self, panel: str) -> Span | None:
        told = self.number(AREA, panel)
        if told is not None and told > 0:
            return Span.exactly(told)
        found = self._usual_area(panel)
        if found is None:
            self.notes.lack(
                panel,
                sentence("area"),
                say(
                    "nobody told it and its name is in no row of the table of panel areas; "
                    "measure length by width, folds included"
                ),
            )
            return None
        name, span = found
        self.notes.assume(
            panel,
            say(
                "area taken as {text}, as usual for `{name}`",
                text=self.text(span, Kind.AREA),
                name=name,
            ),
            say("measure length by width, folds included, and tell the area"),
        )
        return span

    def _usual_area(self, panel: str) -> tuple[str, Span] | None:
        table = self.ruleset.tables.get(PANEL_AREAS)
        if table is None:
            return None
        words = _words(panel)
        rows = [
            (str(name), Span(Fraction(low), Fraction(high)))
            for name, low, high in pick(table, "panel areas", "panel", "low-m2", "high-m2")
            if _words(str(name)) <= words
        ]
        if not rows:
            return None
        closest = max(len(_words(name)) for name, _ in rows)
        best = [(name, span) for name, span in rows if len(_words(name)) == closest]
        # Two rows that fit equally well are both possible, so the range has to hold both.
        whole = Span(min(span.low for _, span in best), max(span.high for _, span in best))
        return say(" or ").join(dict.fromkeys(name for name, _ in best)), whole

    def side(self, panel: str) -> str | None:
        """The side of the car a panel is on by the words of its name; None where none says."""
        table = self.ruleset.tables.get(SIDES)
        if table is None:
            return None
        words = _words(panel)
        found = {
            str(side)
            for word, side in pick(table, "sides", "word", "side")
            if str(word).casefold() in words
        }
        return found.pop() if len(found) == 1 else None

    # --- the paint system ---------------------------------------------------------------------

    def system_film(self, product: str, panel: str) -> Fraction:
        """The dry film in um of a product in the paint system, for what is done to the panel.

        Raises ReckoningError where system or treatment are open, or the product is not in it.
        """
        chosen = self.choice(TOPCOAT)
        if chosen is None:
            raise ReckoningError(
                say("`{topcoat}` is not known; say which topcoat is to come", topcoat=TOPCOAT)
            )
        system = self.ruleset.systems.get(chosen)
        if system is None:
            raise ReckoningError(
                say("there is no paint system `{chosen}`; add it to products.yaml", chosen=chosen)
            )
        treatment = self.decision.panels[panel].treatment
        if treatment is None:
            raise ReckoningError(
                say("the treatment of {panel} is open; answer what is still asked", panel=panel)
            )
        way = self.ruleset.treatments[treatment].coats
        if way is None:
            raise ReckoningError(
                say(
                    "the treatment `{treatment}` names no coats; give it `coats` in outcomes.yaml",
                    treatment=treatment,
                )
            )
        films = [coat.film for coat in self.coats_on(panel) if coat.product == product]
        if not films:
            raise ReckoningError(
                say(
                    "the paint system `{chosen}` puts no `{product}` on a panel "
                    "`{way}`; give the step a film of its own",
                    chosen=chosen,
                    product=product,
                    way=way,
                )
            )
        return sum(films, Fraction(0))

    # --- words --------------------------------------------------------------------------------

    def shortens(self, subjects: Iterable[str | None]) -> bool:
        """Whether `called` leaves some of these panels unnamed, and not for all but a few."""
        named = {subject for subject in subjects if subject is not None}
        others = [panel for panel in self.decision.panels if panel not in named]
        return len(named) > _NAMED and len(others) >= _NAMED

    def called(self, subjects: Iterable[str | None]) -> str:
        """Panels in words, long lists shortened; the car where there are none, or for None."""
        listed = list(dict.fromkeys(subjects))
        named = [subject for subject in listed if subject is not None]
        if len(listed) > len(named) and named:
            return f"{say(THE_CAR)}, {self.called(named)}"
        others = [panel for panel in self.decision.panels if panel not in named]
        if not others and len(named) >= _NAMED:
            return say("all panels")
        if len(named) <= _NAMED:
            return ", ".join(named) or say(THE_CAR)
        if len(others) < _NAMED:
            return say("all panels but {others}", others=say(" and ").join(others))
        some = ", ".join(named[:_NAMED])
        return say("{some} and {count} more", some=some, count=len(named) - _NAMED)

    def work(self, title: str, panels: Iterable[str]) -> str:
        """A piece of work in words: its title, and on what."""
        return f"{title} ({self.called(panels)})"

    def unit(self, kind: Kind) -> str | None:
        """The unit of the region for a kind."""
        return self.units.unit(kind)

    def amount(self, amount: Fraction, kind: Kind) -> str:
        """An amount in words, in the units of the region; times in hours or minutes."""
        return self.units.amount(amount, kind)

    def measured(self, span: Span, kind: Kind) -> Span:
        """An amount of a product or of sheets; what is counted comes in whole pieces."""
        if kind is not Kind.NUMBER:
            return span
        return Span(Fraction(ceil(span.low)), Fraction(ceil(span.high)))

    def text(self, span: Span, kind: Kind) -> str:
        """A span in words: `1.2 m2`, `20 min to 35 min`."""
        return self.units.text(span, kind)

    def ends(self, span: Span, kind: Kind) -> tuple[str, str]:
        """Both ends of a span in words, in the same unit (times: each in its own)."""
        return self.units.ends(span, kind)


def limit_of(ruleset: RuleSet, name: str) -> Fraction:
    """A limit in the base unit. Raises ReckoningError where the rule set has none."""
    if name not in ruleset.limits:
        raise ReckoningError(
            say("the rule set has no limit `{name}`; add it to limits.yaml", name=name)
        )
    return ruleset.limits[name].amount


def _words(text: str) -> frozenset[str]:
    return frozenset(_WORD.findall(text.casefold()))
