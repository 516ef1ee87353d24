"""Supposing: what would be decided if some facts were otherwise, and what would have to change.

Every change that is named has been run through the rules; nothing is inferred from their text.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import combinations, islice, product

from engine.decision import Decision, Findings
from engine.facts import FactValue, JobFacts, Told
from engine.reasoning.asking import Inquiry
from engine.reasoning.decide import decide, inquiry_for
from engine.reasoning.evaluate import evaluate
from engine.reasoning.settling import settle
from engine.reasoning.wording import Wording
from engine.ruleset.depends import facts_read
from engine.ruleset.model import About, FactKind, FactSpec, RuleSet

_NEAR = Fraction(1, 100)
"""How far beyond a limit a tried value lies, as a share of the limit."""

BUDGET = 20_000
"""Evaluations spent on one panel before the search for double changes is given up."""


@dataclass(frozen=True, slots=True)
class Change:
    """One fact told otherwise. `was` and `now` are the values in words."""

    about: str
    panel: str | None
    fact: str
    title: str
    was: str
    now: str
    told: Told


@dataclass(frozen=True, slots=True)
class Flip:
    """The smallest change found that gives another treatment, or None where there is none.

    `searched` is False where the search was cut short, so that none found proves nothing.
    """

    treatment: str
    changes: tuple[Change, ...] | None
    searched: bool


@dataclass(frozen=True, slots=True)
class SubjectDifference:
    """What differs for one panel, or for the car (`panel` None). Pairs are (before, after)."""

    panel: str | None
    treatment: tuple[str | None, str | None] | None
    facts: Mapping[str, tuple[str | None, str | None]]
    gained: Mapping[str, tuple[str, ...]]
    lost: Mapping[str, tuple[str, ...]]

    def __bool__(self) -> bool:
        return bool(self.treatment or self.facts or self.gained or self.lost)


def suppose(ruleset: RuleSet, job: JobFacts, changes: Iterable[Change]) -> Decision:
    """The decision as it would be with the changes made."""
    for change in changes:
        job = job.tell(change.about, change.panel, change.fact, change.told)
    return decide(ruleset, job)


def difference(before: Decision, after: Decision) -> tuple[SubjectDifference, ...]:
    """What two decisions of a job differ in, subject by subject; equal subjects are left out."""
    found = [_between(None, before.car, after.car, None)]
    for name in dict.fromkeys((*before.panels, *after.panels)):
        earlier, later = before.panels.get(name), after.panels.get(name)
        was = earlier.treatment if earlier else None
        now = later.treatment if later else None
        found.append(
            _between(
                name,
                earlier.found if earlier else _NOTHING,
                later.found if later else _NOTHING,
                (was, now) if was != now else None,
            )
        )
    return tuple(each for each in found if each)


_NOTHING = Findings({}, (), (), (), ())


def _between(
    panel: str | None,
    before: Findings,
    after: Findings,
    treatment: tuple[str | None, str | None] | None,
) -> SubjectDifference:
    names = dict.fromkeys((*before.facts, *after.facts))
    facts = {
        name: (_text(before, name), _text(after, name))
        for name in names
        if _text(before, name) != _text(after, name)
    }
    had, has = _parts(before), _parts(after)
    return SubjectDifference(
        panel,
        treatment,
        facts,
        {kind: left for kind in has if (left := _without(has[kind], had[kind]))},
        {kind: left for kind in had if (left := _without(had[kind], has[kind]))},
    )


def _text(found: Findings, name: str) -> str | None:
    return found.facts[name].text if name in found.facts else None


def _parts(found: Findings) -> dict[str, tuple[str, ...]]:
    return {
        "holds": tuple(dict.fromkeys(hold.topic for hold in found.holds)),
        "cautions": tuple(dict.fromkeys(caution.topic for caution in found.cautions)),
        "steps": tuple(step.step for step in found.steps),
    }


def _without(these: Sequence[str], those: Sequence[str]) -> tuple[str, ...]:
    return tuple(each for each in these if each not in those)


# --- flipping ------------------------------------------------------------------------------------


def flips(ruleset: RuleSet, job: JobFacts, panel: str, budget: int = BUDGET) -> tuple[Flip, ...]:
    """For every other treatment of a panel, the smallest single or double change that gives it.

    Fewer facts are smaller than more; among as many facts, numbers closer to what was told.
    """
    return _Flipper(inquiry_for(ruleset), job, panel, budget).flips()


class _Flipper:
    def __init__(self, inquiry: Inquiry, job: JobFacts, panel: str, budget: int) -> None:
        self._program = inquiry.program
        self._inquiry = inquiry
        self._job = job
        self._alone = replace(job, panels={panel: job.panels[panel]})
        self._panel = panel
        self._left = budget
        self._evaluation = evaluate(self._program, job)
        self._now = settle(self._program, self._evaluation.panels[panel].truths).treatment

    def flips(self) -> tuple[Flip, ...]:
        wanted = [name for name in self._program.treatments if name != self._now]
        found: dict[str, tuple[Change, ...]] = {}
        cut = False
        for count in (1, 2):
            for changes in self._sets_of(count):
                if len(found) == len(wanted):
                    break
                if self._left <= 0:
                    cut = True
                    break
                treatment = self._try(changes)
                if treatment and treatment != self._now and treatment not in found:
                    found[treatment] = changes
        return tuple(Flip(name, found.get(name), name in found or not cut) for name in wanted)

    def _sets_of(self, count: int) -> Iterator[tuple[Change, ...]]:
        by_fact = self._changes()
        if count == 1:
            singles = [change for changes in by_fact.values() for change in changes]
            yield from ((change,) for change in sorted(singles, key=self._size))
            return
        for facts in combinations(by_fact, count):
            yield from product(*(islice(by_fact[fact], 12) for fact in facts))

    def _try(self, changes: Iterable[Change]) -> str | None:
        self._left -= 1
        job = self._told(self._alone, changes)
        quick = settle(
            self._program, evaluate(self._program, job).panels[self._panel].truths
        ).treatment
        if quick is None or quick == self._now or len(self._job.panels) == 1:
            return quick
        whole = evaluate(self._program, self._told(self._job, changes))
        return settle(self._program, whole.panels[self._panel].truths).treatment

    @staticmethod
    def _told(job: JobFacts, changes: Iterable[Change]) -> JobFacts:
        for change in changes:
            job = job.tell(change.about, change.panel, change.fact, change.told)
        return job

    def _size(self, change: Change) -> tuple[Fraction, int]:
        spec = self._program.facts[change.fact].spec
        earlier = self._job.panels[self._panel].get(change.fact)
        return (_distance(spec, earlier, change.told), self._program.slots[change.fact])

    def _changes(self) -> dict[str, list[Change]]:
        """Every change worth trying, by fact, the smallest of each fact first."""
        below = frozenset[str]().union(
            *(
                self._program.readers[fact]
                for rule in self._program.treatment_rules
                for fact in facts_read(self._program.rules[rule.index].rule.when)
            )
        )
        found: dict[str, list[Change]] = {}
        for name in sorted(below, key=lambda fact: self._program.slots[fact]):
            spec = self._program.facts[name].spec
            if spec.about is About.PANEL:
                changes = [self._change(spec, value) for value in self._values(spec)]
                found[name] = sorted(
                    (change for change in changes if change.was != change.now), key=self._size
                )
        return found

    def _values(self, spec: FactSpec) -> list[FactValue]:
        values = [
            told.value for told in self._inquiry.domains.of(spec.id) if told.value is not None
        ]
        told = self._alone.panels[self._panel].get(spec.id)
        if spec.kind is FactKind.QUANTITY:
            points = [value for value in values if isinstance(value, Fraction)]
            return [*values, *(point * (1 + _NEAR) for point in points)]
        if spec.kind is FactKind.LIST and told is not None and isinstance(told.value, tuple):
            levels = {
                reading
                for value in values
                if isinstance(value, tuple)
                for spot in value
                for reading in spot
            }
            spots = len(told.value)
            near = {level * (1 + _NEAR) for level in levels}
            return [((level,),) * spots for level in sorted(levels | near)]
        return values

    def _change(self, spec: FactSpec, value: FactValue) -> Change:
        wording = Wording(self._evaluation)
        earlier = self._alone.panels[self._panel].get(spec.id)
        was = "not told" if earlier is None or earlier.value is None else ""
        return Change(
            about=str(spec.about),
            panel=self._panel,
            fact=spec.id,
            title=spec.title,
            was=was or wording.value(spec, earlier.value),  # type: ignore[union-attr,arg-type]
            now=wording.value(spec, value),
            told=Told(value, wording.value(spec, value), by="supposed"),
        )


def _distance(spec: FactSpec, earlier: Told | None, now: Told) -> Fraction:
    """How far a supposed value lies from the told one; a choice changed counts as one."""
    if earlier is None or earlier.value is None or now.value is None:
        return Fraction(1)
    was, is_ = _level(earlier.value), _level(now.value)
    if was is None or is_ is None:
        return Fraction(1)
    return abs(is_ - was) / max(abs(was), abs(is_), Fraction(1))


def _level(value: FactValue) -> Fraction | None:
    if isinstance(value, Fraction):
        return value
    if isinstance(value, tuple):
        means = [sum(spot, Fraction(0)) / len(spot) for spot in value if spot]
        return sum(means, Fraction(0)) / len(means) if means else None
    return None
