"""What rules come to for one job, as far as it is compared: outcomes, and the rules that give them.

Texts are left out, so that many thousand jobs can be compared.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from engine.decision import Decision
from engine.facts import JobFacts
from engine.reasoning.decide import Assembly, evaluated, inquiry_for
from engine.reasoning.evaluate import Evaluation, Known, Subject, evaluate
from engine.reasoning.kleene import NOT_APPLICABLE, OPEN, UNSURE
from engine.reasoning.program import CompiledRule, Program
from engine.reasoning.settling import Settled, settle
from engine.reckoning.memory import ByIdentity
from engine.ruleset.model import About, RuleSet

Given = Mapping[tuple[str, str], tuple[str, ...]]
"""Holds, cautions and steps as (`hold`, topic), each with the rules that give it."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """One job under one rule set. Panels are named, the car is None."""

    ruleset: RuleSet
    evaluation: Evaluation
    settled: Mapping[str, Settled]

    @property
    def complete(self) -> bool:
        """Whether every panel has its treatment."""
        return bool(self.settled) and all(each.treatment for each in self.settled.values())

    def given(self, where: str | None) -> Given:
        """What stands for the car or a panel."""
        truths = self.evaluation.subject(where).truths
        found: dict[tuple[str, str], list[str]] = {}
        for compiled, gifts, gifts_while_open in _givers(self.evaluation.program, where):
            truth = truths[compiled.index]
            for gift in gifts if truth is True else gifts_while_open if truth is None else ():
                found.setdefault(gift, []).append(compiled.rule.id)
        return {gift: tuple(rules) for gift, rules in found.items()}

    def truth(self, rule: str, where: str | None) -> bool | None:
        """Whether a rule fires; of a rule that is not there, or about others, it does not."""
        index = _index(self.evaluation.program).get(rule)
        return False if index is None else self.evaluation.subject(where).truths[index]

    def value(self, slot: int, where: str | None) -> Known | None:
        """The value of a fact by its slot, None where it is not known."""
        return known(self.evaluation.subject(where), slot)

    def bare(self) -> Decision:
        """The decision to plan from."""
        return Assembly(self.evaluation).bare()


def outcome(ruleset: RuleSet, facts: JobFacts, *, asked: bool = True) -> Outcome:
    """Decide a job as `decide` does, without putting it into words.

    `asked` as `ask` is given to `decide`.
    """
    program = inquiry_for(ruleset).program
    evaluation = evaluate(program, facts)
    settled = _settled(evaluation)
    # What no answer changes is only looked for where something looks open.
    if asked and any(each.treatment is None and not each.gap for each in settled.values()):
        evaluation, _ = evaluated(ruleset, facts)
        settled = _settled(evaluation)
    return Outcome(ruleset, evaluation, settled)


def known(subject: Subject, slot: int) -> Known | None:
    """The exact value in a slot, None where the fact is open or does not apply."""
    state = subject.vector[slot]
    if state is OPEN or state is UNSURE or state is NOT_APPLICABLE:
        return None
    return subject.exact.get(slot, state)


def _settled(evaluation: Evaluation) -> dict[str, Settled]:
    return {
        name: settle(evaluation.program, panel.truths) for name, panel in evaluation.panels.items()
    }


_Giver = tuple[CompiledRule, tuple[tuple[str, str], ...], tuple[tuple[str, str], ...]]


def _givers(program: Program, where: str | None) -> tuple[_Giver, ...]:
    return _prepared(program).panel if where is not None else _prepared(program).car


def _index(program: Program) -> Mapping[str, int]:
    return _prepared(program).index


@dataclass(frozen=True, slots=True)
class _Prepared:
    """What is looked up over and over for one program."""

    index: Mapping[str, int]
    car: tuple[_Giver, ...]
    panel: tuple[_Giver, ...]


_PREPARED: ByIdentity[_Prepared] = ByIdentity(most=16)


def _prepared(program: Program) -> _Prepared:
    found = _PREPARED.get((program,))
    return found or _PREPARED.put(
        (program,),
        _Prepared(
            {compiled.rule.id: compiled.index for compiled in program.rules},
            tuple(_giving(program, panel=False)),
            tuple(_giving(program, panel=True)),
        ),
    )


def _giving(program: Program, *, panel: bool) -> Iterator[_Giver]:
    for compiled in program.rules:
        if (compiled.rule.about is About.PANEL) is not panel:
            continue
        notices = tuple(_notices(compiled))
        steps = tuple(("step", step) for step in compiled.rule.then.steps)
        while_open = notices if compiled.rule.applies_while_open else ()
        if notices or steps:
            yield compiled, (*notices, *steps), while_open


def _notices(compiled: CompiledRule) -> Iterable[tuple[str, str]]:
    yield from (("hold", hold) for hold in compiled.rule.then.holds)
    yield from (("caution", caution) for caution in compiled.rule.then.cautions)
