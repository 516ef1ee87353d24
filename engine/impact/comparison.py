"""Compares what two rule sets come to for one job."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass
from functools import lru_cache

from engine.errors import Place
from engine.facts import JobFacts
from engine.impact.cause import Cause, of_given, of_treatment
from engine.impact.fitting import Unfit, fitted
from engine.impact.outcome import Outcome, outcome
from engine.plan.materials import OTHER_LOSS, STEP_RATIO
from engine.plan.totals import TaskKey, TaskTotals, Totals, totals
from engine.reasoning.decide import inquiry_for
from engine.ruleset.check_use import facts_of_work
from engine.ruleset.model import About, RuleSet
from engine.ruleset.names import TREATMENT
from engine.ruleset.shop_model import ShopChange
from engine.ruleset.source import Source

OPEN = "open"
"""The treatment of a panel that is not settled yet."""

NONE = "none"
"""The treatment of a panel for which no rule asks for anything."""


@dataclass(frozen=True, slots=True)
class TreatmentChange:
    """A panel's treatment under the old and the new rules; `open` and `none` stand for neither."""

    was: str
    now: str
    because: tuple[Cause, ...]


@dataclass(frozen=True, slots=True)
class GivenChange:
    """A hold, a caution or a step that is given now (`gained`), or not any more."""

    what: str
    name: str
    gained: bool
    because: tuple[Cause, ...]


@dataclass(frozen=True, slots=True)
class SubjectChange:
    """What differs for the car (None) or a panel.

    `facts` are the facts that both rule sets know and that have other values, `fires` and `quiet`
    the rules of both that fire now or do not any more.
    """

    panel: str | None
    treatment: TreatmentChange | None
    given: tuple[GivenChange, ...]
    facts: tuple[str, ...]
    fires: tuple[str, ...]
    quiet: tuple[str, ...]

    @property
    def outcome(self) -> bool:
        """Whether an outcome differs, and not only what leads to one."""
        return bool(self.treatment or self.given)

    def __bool__(self) -> bool:
        return bool(self.outcome or self.facts or self.fires or self.quiet)


@dataclass(frozen=True, slots=True)
class WorkChange:
    """The sums of the work under both rule sets, where they differ."""

    before: Totals
    after: Totals


@dataclass(frozen=True, slots=True)
class JobChange:
    """What differs for a job. `unfit` names told facts left out, under the old and new rules."""

    was_complete: bool
    is_complete: bool
    subjects: tuple[SubjectChange, ...]
    work: WorkChange | None
    unfit_before: tuple[Unfit, ...] = ()
    unfit_after: tuple[Unfit, ...] = ()

    @property
    def outcome(self) -> bool:
        """Whether an outcome, or the work that comes of it, differs."""
        return (
            self.was_complete is not self.is_complete
            or self.work is not None
            or any(subject.outcome for subject in self.subjects)
        )


class Comparison:
    """Two rule sets, and what is worked out once for comparing jobs under them."""

    def __init__(self, old: RuleSet, new: RuleSet) -> None:
        self.old = old
        self.new = new
        self.same = old.digest == new.digest
        self._same_work = self.same or work_key(old) == work_key(new)
        self._work_facts = facts_of_work(old) | facts_of_work(new)
        self._facts = {True: self._shared_facts(panel=True), False: self._shared_facts(panel=False)}
        self._rules = {True: self._shared_rules(panel=True), False: self._shared_rules(panel=False)}

    def of(self, facts: JobFacts, *, asked: bool = True) -> JobChange:
        """What differs for a job with these told facts.

        Raises PrepwrightError where it cannot be decided or its work cannot be reckoned.
        """
        told_before, unfit_before = fitted(self.old, facts)
        told_after, unfit_after = (
            (told_before, unfit_before) if self.same else fitted(self.new, facts)
        )
        before = outcome(self.old, told_before, asked=asked)
        if self.same:
            return JobChange(before.complete, before.complete, (), None, unfit_before, unfit_after)
        after = outcome(self.new, told_after, asked=asked)
        subjects = tuple(
            change
            for where in (None, *before.settled)
            if (change := self._subject(before, after, where))
        )
        return JobChange(
            before.complete,
            after.complete,
            subjects,
            self._work(before, after, subjects),
            unfit_before,
            unfit_after,
        )

    def _subject(self, before: Outcome, after: Outcome, where: str | None) -> SubjectChange:
        is_panel = where is not None
        fires: list[str] = []
        quiet: list[str] = []
        had, has = before.evaluation.subject(where).truths, after.evaluation.subject(where).truths
        for rule, was, now in self._rules[is_panel]:
            if has[now] is True and had[was] is not True:
                fires.append(rule)
            elif had[was] is True and has[now] is not True:
                quiet.append(rule)
        return SubjectChange(
            panel=where,
            treatment=None if where is None else _treatment(before, after, where),
            given=tuple(_given(before, after, where)),
            facts=tuple(
                fact
                for fact, was, now in self._facts[is_panel]
                if before.value(was, where) != after.value(now, where)
            ),
            fires=tuple(fires),
            quiet=tuple(quiet),
        )

    def _work(
        self, before: Outcome, after: Outcome, subjects: tuple[SubjectChange, ...]
    ) -> WorkChange | None:
        """The work under both, where anything that it is reckoned from is not the same."""
        same_inputs = self._same_work and all(
            self._work_facts.isdisjoint(subject.facts) for subject in subjects
        )
        deeper = {subject.panel for subject in subjects if subject.treatment}
        steps = any(each.what == "step" for subject in subjects for each in subject.given)
        if same_inputs and not deeper and not steps:
            return None
        known: dict[TaskKey, TaskTotals] = {}
        was = totals(self.old, before.bare(), known)
        if same_inputs:
            # A task on panels treated as before comes to the same; amounts depend on treatment.
            known = {key: found for key, found in known.items() if deeper.isdisjoint(key[1])}
        else:
            known = {}
        now = totals(self.new, after.bare(), known)
        return WorkChange(was, now) if was != now else None

    def _shared_facts(self, *, panel: bool) -> tuple[tuple[str, int, int], ...]:
        old, new = inquiry_for(self.old).program, inquiry_for(self.new).program
        return tuple(
            (spec.id, old.slots[spec.id], new.slots[spec.id])
            for spec in self.old.facts.values()
            if spec.id in self.new.facts
            and spec.id != TREATMENT
            and (spec.about is About.PANEL) is panel
            and (self.new.facts[spec.id].about is About.PANEL) is panel
        )

    def _shared_rules(self, *, panel: bool) -> tuple[tuple[str, int, int], ...]:
        new = {each.rule.id: each for each in inquiry_for(self.new).program.rules}
        return tuple(
            (each.rule.id, each.index, new[each.rule.id].index)
            for each in inquiry_for(self.old).program.rules
            if each.rule.id in new
            and (each.rule.about is About.PANEL) is panel
            and (new[each.rule.id].rule.about is About.PANEL) is panel
        )


def treatment_of(found: Outcome, panel: str) -> str:
    """The treatment of a panel, `open` where it is not settled, `none` where nothing is asked."""
    settled = found.settled[panel]
    return settled.treatment or (NONE if settled.gap else OPEN)


def _treatment(before: Outcome, after: Outcome, panel: str) -> TreatmentChange | None:
    was, now = treatment_of(before, panel), treatment_of(after, panel)
    return None if was == now else TreatmentChange(was, now, of_treatment(before, after, panel))


def _given(before: Outcome, after: Outcome, where: str | None) -> Iterator[GivenChange]:
    had, has = before.given(where), after.given(where)
    if had == has:
        return
    for gift in dict.fromkeys((*had, *has)):
        if (gift in had) is not (gift in has):
            rules = had.get(gift, ()), has.get(gift, ())
            yield GivenChange(*gift, gift in has, of_given(before, after, where, *rules))


# --- whether work is reckoned from the same ------------------------------------------------------

_ONLY_FOR_PEOPLE = frozenset(("place", "source", "title", "text", "note", "shop", "written"))


@lru_cache(maxsize=16)
def work_key(ruleset: RuleSet) -> Hashable:
    """What hours and amounts are reckoned from; equal keys give equal sums for equal outcomes."""
    return _plain(
        (
            ruleset.steps,
            ruleset.products,
            ruleset.systems,
            ruleset.tables,
            ruleset.labour,
            [ruleset.limits.get(name) for name in (OTHER_LOSS, STEP_RATIO)],
            ruleset.treatments,
        )
    )


def _plain(value: object) -> Hashable:
    """The same in tuples, without places, sources and texts."""
    if isinstance(value, Place | Source | ShopChange):
        return None
    if is_dataclass(value):
        return tuple(
            _plain(getattr(value, each.name))
            for each in fields(value)
            if each.name not in _ONLY_FOR_PEOPLE
        )
    if isinstance(value, Mapping):
        return tuple((key, _plain(item)) for key, item in value.items())
    if isinstance(value, tuple | list):
        return tuple(_plain(item) for item in value)
    assert isinstance(value, Hashable)
    return value
