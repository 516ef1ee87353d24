"""Builds rules: the condition, what follows from it, and who beats whom."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from pathlib import PurePosixPath

from engine.errors import Place
from engine.ruleset.build_limits import build_source
from engine.ruleset.conditions import ConditionReader, Reader, nearest_choice
from engine.ruleset.entries import Entries, Entry
from engine.ruleset.model import About, FactSpec, Rule, Then
from engine.ruleset.names import TREATMENT, Names, check_template
from engine.ruleset.report import Report, near

BEATS_ALL = "all"


@dataclass(frozen=True, slots=True)
class Outcomes:
    """The ids a rule's `then` may name; steps with whom they are about, where that is known."""

    treatments: Collection[str]
    holds: Collection[str]
    cautions: Collection[str]
    steps: Mapping[str, About | None]


def build_rules(
    entries: Entries, names: Names, outcomes: Outcomes, report: Report
) -> dict[str, Rule | None]:
    """Every rule by id; None for one that is there but wrong."""
    conditions = ConditionReader(names, report)
    return {
        id: _Builder(entry, names, outcomes, conditions, report).rule(entries)
        for id, entry in entries.items()
    }


class _Builder:
    """Builds one rule from its entry."""

    def __init__(
        self,
        entry: Entry,
        names: Names,
        outcomes: Outcomes,
        conditions: ConditionReader,
        report: Report,
    ) -> None:
        self._entry = entry
        self._names = names
        self._outcomes = outcomes
        self._conditions = conditions
        self._report = report

    def rule(self, rules: Entries) -> Rule | None:
        entry = self._entry
        before = len(self._report)
        self._check_name()
        written = entry.get("about")
        if written is None:
            return None
        about = About(written)
        when = self._conditions.read(entry, ("when",), Reader(about, f"the rule `{entry.id}`"))
        then = self._then(about)
        because = entry.get("because")
        if because is not None:
            check_template(because, entry, ("because",), about, self._names, self._report)
        beats, beats_all = self._beats(rules, then)
        applies = entry.get("when-open") == "apply"
        if applies:
            self._check_applies(then)
        source = build_source(entry)
        if len(self._report) > before or not entry.sound or when is None or source is None:
            return None
        return Rule(
            id=entry.id,
            about=about,
            topic=_topic(entry.document.file),
            when=when,
            then=then,
            because=because,
            source=source,
            place=entry.name_place,
            beats=beats,
            beats_all=beats_all,
            applies_while_open=applies,
            note=entry.get("note"),
        )

    def _check_name(self) -> None:
        if self._entry.id == BEATS_ALL:
            self._report.add(
                "reserved-name",
                "`all` has a meaning of its own and cannot name a rule",
                self._entry.place("rule"),
                "Give the rule another name.",
            )

    # --- then ---------------------------------------------------------------------------------

    def _then(self, about: About) -> Then:
        treatment = self._entry.get("then", "treatment")
        if treatment is not None:
            self._check_treatment(treatment, about)
        return Then(
            conclude=tuple(self._conclude(about)),
            treatment=treatment,
            steps=self._steps(about),
            cautions=self._named("caution", self._outcomes.cautions),
            holds=self._named("hold", self._outcomes.holds),
        )

    def _check_treatment(self, treatment: str, about: About) -> None:
        if about is not About.PANEL:
            self._report.add(
                "treatment-about-car",
                "a rule about the car cannot give a treatment, which each panel has for itself",
                self._entry.key_place("then", "treatment"),
                "Write `about: panel`; such a rule reads facts of the car as well.",
            )
        if treatment not in self._outcomes.treatments:
            place = self._entry.place("then", "treatment")
            self._report.unknown("treatment", treatment, self._outcomes.treatments, place)

    def _named(self, key: str, known: Collection[str]) -> tuple[str, ...]:
        written = self._entry.get("then", key)
        if written is None:
            return ()
        found = [written] if isinstance(written, str) else list(written)
        for index, name in enumerate(found):
            if name not in known:
                self._report.unknown(key, name, known, self._item_place(written, key, index))
        return tuple(found)

    def _steps(self, about: About) -> tuple[str, ...]:
        steps = self._named("step", self._outcomes.steps)
        written = self._entry.get("then", "step")
        for index, step in enumerate(steps):
            if about is About.CAR and self._outcomes.steps.get(step) is About.PANEL:
                self._report.add(
                    "step-about-panel",
                    f"`{step}` is work on a panel, and a rule about the car names no panel",
                    self._item_place(written, "step", index),
                    "Name a step about the car, or write `about: panel`.",
                )
        return steps

    def _item_place(self, written: object, key: str, index: int) -> Place:
        keys = ("then", key, index) if isinstance(written, list) else ("then", key)
        return self._entry.place(*keys)

    def _conclude(self, about: About) -> list[tuple[str, str]]:
        found: list[tuple[str, str]] = []
        for fact in self._entry.get("then", "conclude") or {}:
            value = self._entry.text("then", "conclude", fact)
            place = self._entry.key_place("then", "conclude", fact)
            if fact not in self._names.facts:
                self._report.unknown("fact", fact, self._names.facts, place)
                continue
            spec = self._names.facts[fact]
            if spec is not None and value is not None:
                self._check_conclusion(spec, value, about, place)
            if value is not None:
                found.append((fact, value))
        return found

    def _check_conclusion(self, spec: FactSpec, value: str, about: About, place: Place) -> None:
        if spec.id == TREATMENT:
            self._report.add(
                "not-concluded",
                "a treatment is not concluded like a fact",
                place,
                "Write `then: {treatment: ...}`.",
            )
            return
        if spec.otherwise is None:
            self._report.add(
                "not-concluded",
                f"`{spec.id}` is not a fact that rules conclude",
                place,
                f"Give `{spec.id}` `concluded: {{otherwise: ...}}`, or conclude another fact.",
            )
            return
        if spec.about is not about:
            self._report.add(
                "concluded-about",
                f"`{spec.id}` is about the {spec.about}, and this rule is about the {about}",
                place,
                f"Conclude it in a rule with `about: {spec.about}`.",
            )
        if value not in spec.choice_ids:
            self._report.add(
                "unknown-choice",
                f"`{value}` is no choice of `{spec.id}`",
                self._entry.place("then", "conclude", spec.id),
                nearest_choice(value, spec),
            )

    # --- beats and when-open ------------------------------------------------------------------

    def _beats(self, rules: Entries, then: Then) -> tuple[tuple[str, ...], bool]:
        written = self._entry.get("beats")
        if written is None:
            return (), False
        said = self._entry.data.get("then")
        # A treatment that could not be taken is told of elsewhere, and so is a `then` of no shape.
        if then.treatment is None and isinstance(said, Mapping) and "treatment" not in said:
            self._report.add(
                "beats-without-treatment",
                f"`{self._entry.id}` gives no treatment, so it can beat no other",
                self._entry.key_place("beats"),
                "Take `beats` out, or give a treatment.",
            )
        if written == BEATS_ALL:
            return (), True
        named = [written] if isinstance(written, str) else list(written)
        for index, other in enumerate(named):
            keys = ("beats", index) if isinstance(written, list) else ("beats",)
            self._check_beaten(other, rules, self._entry.place(*keys))
        return tuple(named), False

    def _check_beaten(self, other: str, rules: Entries, place: Place) -> None:
        if other == self._entry.id:
            self._report.add(
                "beats-itself", f"`{other}` cannot beat itself", place, "Name another rule."
            )
        elif other == BEATS_ALL:
            self._report.add(
                "beats-all-and-more",
                "`all` stands among other names",
                place,
                "Write `beats: all` alone.",
            )
        elif other not in rules:
            self._report.add(
                "unknown-rule", f"there is no rule `{other}`", place, near(other, rules)
            )
        else:
            beaten = rules[other].data.get("then")
            if isinstance(beaten, Mapping) and "treatment" not in beaten:
                self._report.add(
                    "beats-without-treatment",
                    f"`{other}` gives no treatment that could lose",
                    place,
                    "Name rules that give a treatment.",
                )

    def _check_applies(self, then: Then) -> None:
        barred = [
            key
            for key, given in (
                ("treatment", then.treatment),
                ("step", then.steps),
                ("conclude", then.conclude),
            )
            if given
        ]
        if barred:
            self._report.add(
                "when-open-not-allowed",
                f"`when-open: apply` stands beside `{barred[0]}`, which cannot be provisional",
                self._entry.key_place("when-open"),
                "Keep holds and cautions here and give the rest in a rule of its own.",
            )
        elif not then.holds and not then.cautions:
            self._report.add(
                "when-open-not-allowed",
                "`when-open: apply` stands in a rule without hold or caution",
                self._entry.key_place("when-open"),
                "Take it out.",
            )


def _topic(file: str) -> str:
    # A number before the name only puts the files in order.
    return PurePosixPath(file).stem.lstrip("0123456789").lstrip("-_") or PurePosixPath(file).stem
