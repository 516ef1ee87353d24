"""How many questions remain, at least and at most, however they are answered.

At least: a fact that an open part of the outcome rests on, and that can still change it, is asked
unless another fact of that part is told before. So that fact, with those of the part that may come
before it in the order of questions, makes a group of which one is asked. Groups that have no fact
in common need a question each. One line can tell a fact of all panels, so a fact counts once.

At most: what open rules rest on only becomes less, and each unknown is put once. It holds as long
as answers are given for every panel asked about, and none is set aside or taken back.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Mapping
from typing import TYPE_CHECKING

from cli.chat.alongside import is_due
from engine.reasoning.witness import Verdict
from engine.records import dataclass, field
from engine.ruleset.model import FactKind
from engine.words import counted, say

if TYPE_CHECKING:
    from engine.facts import JobFacts, Told
    from engine.reasoning.asking import Inquiry, Stake, Standing
    from engine.reasoning.components import Part
    from engine.reasoning.cones import Cone
    from engine.reasoning.evaluate import Evaluation
    from engine.reasoning.tracing import Unknown, Where

    Stakes = Mapping[Unknown, Stake]

GLANCE = 60
"""Evaluations spent on showing that one answer can change one part of the outcome."""

WORK = 2_500
"""Facts worked out again, over all evaluations of a turn; what was shown stays shown."""

_RECKONED, _GATHERED = 4, 4
"""How much longer a part takes to look at where it reckons, and where it takes in all panels."""

TOGETHER = (FactKind.CHOICE, FactKind.SET, FactKind.YES_NO)
"""Kinds of facts asked in one question for all panels."""


@dataclass(frozen=True, slots=True)
class Remaining:
    """Questions left, the one being asked among them."""

    least: int
    most: int

    def __str__(self) -> str:
        if self.least == self.most:
            return say("{questions} left", questions=counted(self.most, "question"))
        return say("{least} to {most} questions left", least=self.least, most=self.most)

    def short(self) -> str:
        """The same where there is little room: `3-9 left`."""
        if self.least == self.most == 1:
            return str(self)
        span = self.most if self.least == self.most else f"{self.least}-{self.most}"
        return say("{span} left", span=span)


@dataclass(frozen=True, slots=True)
class _Open:
    """An open part of the outcome, and the facts it rests on, as a bit for each slot.

    `effort` is how long one evaluation of it takes, in facts worked out again.
    """

    effort: int
    facts: int
    where: Where
    part: Part


@dataclass(eq=False)
class Tally:
    """Counts the questions that remain, turn by turn."""

    inquiry: Inquiry
    _shown: dict[tuple[Unknown, Where, Part], tuple[int, bool]] = field(default_factory=dict)
    _told: dict[Unknown, Told] = field(default_factory=dict)
    _panels: tuple[str, ...] = ()
    _sure: int = 0

    def remaining(
        self,
        evaluation: Evaluation,
        skip: Iterable[Unknown],
        asked: str | None,
        *,
        by_panel: bool,
    ) -> Remaining:
        """How many remain while the fact `asked` is; `skip` are those not asked again."""
        skipped, stakes = set(skip), self.inquiry.stakes(evaluation)
        left = {unknown: stake for unknown, stake in stakes.items() if unknown not in skipped}
        self._forget(evaluation.job)
        most = max(self._most(evaluation, left, by_panel=by_panel), 1)
        self._sure = max(self._least(evaluation, left, asked, by_panel=by_panel), self._sure, 1)
        return Remaining(min(self._sure, most), most)

    def answered(self) -> None:
        """The question that was asked is answered: one less of those that were sure to be put."""
        self._sure -= 1

    def anew(self) -> None:
        """Something else happened than an answer to what was asked."""
        self._sure = 0

    def _most(self, evaluation: Evaluation, stakes: Stakes, *, by_panel: bool) -> int:
        facts = self.inquiry.program.facts
        put: set[Unknown] = set()
        for panel, fact in stakes:
            spec = facts[fact].spec
            together = not by_panel and spec.kind in TOGETHER
            put.add((None if together else panel, fact))
            for other in spec.alongside:
                if is_due(evaluation, panel, other, fact):
                    together = not by_panel and facts[other].spec.kind in TOGETHER
                    put.add((None if together else panel, other))
        return len(put)

    def _least(
        self, evaluation: Evaluation, stakes: Stakes, asked: str | None, *, by_panel: bool
    ) -> int:
        groups = list(self._groups(evaluation, stakes, by_panel=by_panel))
        groups.sort(key=lambda group: group[0].bit_count())
        taken = 1 << self.inquiry.program.slots[asked] if asked else 0
        left, found = WORK, int(asked is not None)
        for facts, unknown, open_ in groups:
            if facts & taken:
                continue
            key = (unknown, open_.where, open_.part)
            if key not in self._shown:
                tries = min(GLANCE, left // open_.effort)
                if not tries:
                    continue
                verdict, spent = self.inquiry.search(evaluation, *key, tries)
                left -= max(spent, 1) * open_.effort
                self._shown[key] = open_.facts, verdict is Verdict.MATTERS
            if self._shown[key][1]:
                taken |= facts
                found += 1
        return found

    def _forget(self, job: JobFacts) -> None:
        """Keep what was shown only of parts that rest on nothing told since."""
        was, names = self._told, self._panels
        self._told = {(panel, fact): told for _, panel, fact, told in job}
        self._panels = tuple(job.panels)
        withdrawn = any(self._told.get(unknown) is not told for unknown, told in was.items())
        if withdrawn or self._panels != names:
            self._shown.clear()
            return
        slots = self.inquiry.program.slots
        new = _united(1 << slots[fact] for _, fact in self._told.keys() - was.keys())
        self._shown = {key: one for key, one in self._shown.items() if not one[0] & new}

    # --- groups of which one is asked ----------------------------------------------------------

    def _groups(
        self, evaluation: Evaluation, stakes: Stakes, *, by_panel: bool
    ) -> Iterator[tuple[int, Unknown, _Open]]:
        """Facts of which one is asked, should the answer to the unknown change the open part."""
        facts, slots = self.inquiry.program.facts, self.inquiry.program.slots
        earliest: dict[Standing, int] = {}
        own: dict[Where, list[tuple[int, Unknown, Stake]]] = {}
        for unknown, stake in stakes.items():
            spec = facts[unknown[1]].spec
            bit = 1 << slots[spec.id]
            own.setdefault(unknown[0], []).append((bit, unknown, stake))
            only_steps = stake.kinds() == ("step",)
            standing = self.inquiry.standing(spec, applies=True, only_steps=only_steps)
            for each in (spec.id, *spec.alongside):
                earliest[standing] = earliest.get(standing, 0) | 1 << slots[each]
        before: dict[Standing, int] = {}
        for open_ in self._open_parts(evaluation, stakes):
            of_part = [*own.get(None, ()), *(own.get(open_.where, ()) if open_.where else ())]
            for bit, unknown, stake in of_part:
                if not bit & open_.facts:
                    continue
                group = open_.facts
                if stake.applies and (unknown[0] is None or not by_panel):
                    spec, only_steps = facts[unknown[1]].spec, open_.part[0] == "step"
                    latest = self.inquiry.standing(spec, applies=True, only_steps=only_steps)
                    if latest not in before:
                        before[latest] = _united(
                            bits for standing, bits in earliest.items() if standing <= latest
                        )
                    group &= before[latest]
                yield group, unknown, open_

    def _open_parts(self, evaluation: Evaluation, stakes: Stakes) -> list[_Open]:
        """Open parts, one for each set of facts that some rest on; easily looked at come first."""
        slots = self.inquiry.program.slots
        looks = _looks(evaluation)
        resting: dict[Where, dict[int, tuple[int, tuple[Part, ...]]]] = {}
        for (home, fact), stake in stakes.items():
            if home not in looks:
                continue
            bit = 1 << slots[fact]
            for where, several in stake.bears():
                if where not in looks:
                    continue
                groups = resting.setdefault(where, {})
                for parts in several:
                    earlier = groups.get(id(parts))
                    groups[id(parts)] = (earlier[0] | bit if earlier else bit), parts
        best: dict[tuple[int, bool], _Open] = {}
        for where, groups in resting.items():
            of_part: dict[Part, int] = {}
            for facts, parts in groups.values():
                for part in parts:
                    of_part[part] = of_part.get(part, 0) | facts
            for part, facts in of_part.items():
                key, effort = (facts, part[0] == "step"), _effort(self.inquiry.cone(where, part))
                if key not in best or effort < best[key].effort:
                    best[key] = _Open(effort, facts, where, part)
        return sorted(best.values(), key=lambda open_: open_.effort)


def _looks(evaluation: Evaluation) -> set[Where]:
    """The car, and one panel for all that look alike: those rest on the same facts."""
    found: dict[Hashable, str] = {}
    for name, panel in evaluation.panels.items():
        found.setdefault((tuple(panel.vector), tuple(panel.pending)), name)
    return {None, *found.values()}


def _effort(cone: Cone) -> int:
    return len(cone.facts) * (_RECKONED if cone.reckons else 1) * (_GATHERED if cone.gathers else 1)


def _united(several: Iterable[int]) -> int:
    found = 0
    for bits in several:
        found |= bits
    return found
