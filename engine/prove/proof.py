"""Puts the questions about a rule set, and keeps what was shown, what was not, and by which car."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import z3

from engine.facts import JobFacts
from engine.prove.conflicts import conflict_questions
from engine.prove.effect import Effects, Matter, fires
from engine.prove.encode import Encoding
from engine.prove.gaps import Gaps
from engine.prove.limits import revived
from engine.prove.reckoned import RECKONINGS_BOUNDED
from engine.prove.result import ProofFinding, Witness, in_vain
from engine.prove.search import Answer, Search
from engine.prove.witness import PANEL, Cars, Shows, cut, with_written
from engine.prove.worked import WorkedCases
from engine.reasoning.evaluate import Evaluation, evaluate
from engine.reasoning.program import compile_ruleset
from engine.reasoning.settling import settle
from engine.ruleset.check import of_supplied
from engine.ruleset.depends import TREATMENT_NODE, Node
from engine.ruleset.finding import OF_PROOFS, by_review
from engine.ruleset.model import All, RuleSet
from engine.ruleset.phrase import Phrases
from engine.ruleset.shop_model import Reviewed

MILLISECONDS = 20_000
"""How long the solver may think about one question before it is left unsettled."""

Progress = Callable[[str, int, int], None]
"""Told what is being looked at, and how many of how many are done."""


@dataclass(slots=True)
class Proof:
    """What came of it. `proved` and `not_proved` are sentences for people.

    Findings that `reviewed.yaml` lets stand are in `let_stand`, each with what was said there.
    """

    ruleset: RuleSet
    findings: list[ProofFinding] = field(default_factory=list)
    proved: list[str] = field(default_factory=list)
    not_proved: list[str] = field(default_factory=list)
    let_stand: list[tuple[ProofFinding, Reviewed]] = field(default_factory=list)

    @property
    def clean(self) -> bool:
        """Whether nothing wrong was found; notes and what could not be settled do not count."""
        return not any(finding.wrong for finding in self.findings)


def prove(
    ruleset: RuleSet, *, milliseconds: int = MILLISECONDS, progress: Progress | None = None
) -> Proof:
    """Look for gaps, conflicts, and rules that never fire or never matter.

    The worked cases of the rule set serve as cars that are known; load it with them. Every car in
    a finding was put to the evaluator.
    """
    return _Prover(ruleset, milliseconds, progress or (lambda what, done, total: None)).proof()


_GAPS = "Cars left out"
_CONFLICTS = "Contradictions"
_NEVER_FIRE = "Rules that never fire"
_NEVER_MATTER = "Rules that never matter"


class _Prover:
    def __init__(self, ruleset: RuleSet, milliseconds: int, progress: Progress) -> None:
        self._ruleset = ruleset
        self._milliseconds = milliseconds
        self._progress = progress
        self._program = compile_ruleset(ruleset)
        self._cars = Cars(self._program)
        self._encoding = Encoding(self._program)
        self._search = Search(self._encoding, self._cars, milliseconds)
        self._phrases = Phrases(ruleset)
        self._proof = Proof(ruleset)
        self._unsettled: set[str] = set()

    def proof(self) -> Proof:
        self._gaps()
        self._conflicts()
        effects = Effects(self._program)
        cases = WorkedCases(self._program, effects, self._encoding)
        firing = self._never_fire(cases)
        self._never_matter(cases, effects, firing)
        self._proof.not_proved += _standing(self._encoding)
        self._review()
        return self._proof

    def _review(self) -> None:
        """Set aside what somebody let stand, and name reviews that nothing answers to any more."""
        reviews = [review for review in self._ruleset.reviewed if review.finding in OF_PROOFS]
        left, self._proof.let_stand, unanswered = by_review(self._proof.findings, reviews)
        self._proof.findings = left + [
            in_vain(review)
            for review in unanswered
            if self._unsettled.isdisjoint(review.names)
            and not of_supplied(self._ruleset, review.place.file)
        ]

    # --- gaps -------------------------------------------------------------------------------------

    def _gaps(self) -> None:
        self._progress(_GAPS, 0, 1)
        gaps = Gaps(self._program, self._search)
        found = list(gaps.findings())
        self._proof.findings += found
        if gaps.unsettled:
            self._proof.not_proved += gaps.unsettled
        elif not found:
            self._proof.proved.append(
                "No gap: whatever is told in full of a car, its panel gets a treatment."
            )

    # --- conflicts --------------------------------------------------------------------------------

    def _conflicts(self) -> None:
        before, asked, unsettled = len(self._proof.findings), 0, 0
        for question in conflict_questions(self._program, self._encoding):
            asked += 1
            self._progress(_CONFLICTS, asked, asked + 1)
            found = self._search.car(question.formula, question.shows)
            rules = [self._program.rules[index].rule for index in question.rules]
            if found.answer is Answer.UNSETTLED:
                unsettled += 1
                names = " and ".join(rule.id for rule in rules)
                self._proof.not_proved.append(f"Whether {names} come into conflict: {found.why}.")
            elif found.job is not None:
                self._proof.findings.append(
                    ProofFinding(
                        question.code,
                        question.message,
                        tuple(rule.place for rule in rules),
                        tuple(rule.id for rule in rules),
                        question.fix,
                        self._witness(found.job, question.shows),
                        "they fire together here",
                    )
                )
        if len(self._proof.findings) == before and not unsettled:
            possible = f" ({asked} possible ones looked at)" if asked else ""
            self._proof.proved.append(
                "No conflict: where rules ask for different treatments, their order or `beats` "
                f"settles it{possible}."
            )

    # --- rules without effect ---------------------------------------------------------------------

    def _never_fire(self, cases: WorkedCases) -> set[int]:
        """The rules that fire in some car, by index; the others become findings."""
        firing = set(cases.fired)
        found_here = 0
        settled = True
        for done, compiled in enumerate(self._program.rules):
            if compiled.index in firing:
                continue
            self._progress(_NEVER_FIRE, done, len(self._program.rules))
            formula = self._encoding.rules[compiled.index].holds
            found = self._search.car(formula, fires(self._program, compiled.index))
            if found.answer is Answer.FOUND:
                firing.add(compiled.index)
                found_here += 1
            elif found.answer is Answer.NONE:
                self._proof.findings.append(self._dead(compiled.index))
            else:
                settled = False
                self._unsettled.add(compiled.rule.id)
                self._proof.not_proved.append(
                    f"Whether {compiled.rule.id} ever fires: {found.why}."
                )
        if settled and len(firing) == len(self._program.rules):
            by_case = len(firing) - found_here
            self._proof.proved.append(
                f"No dead rule: each of the {len(firing)} rules fires in some car ({by_case} in a "
                f"worked case, {found_here} in one found here)."
            )
        return firing

    def _dead(self, index: int) -> ProofFinding:
        rule = self._program.rules[index].rule
        by_limit = revived(self._program, index, self._milliseconds)
        why = self._why_dead(index)
        if by_limit is None:
            return ProofFinding(
                "never-fires",
                f"`{rule.id}` can never fire: {why}",
                (rule.place,),
                (rule.id,),
                "Change a test, or take the rule out.",
            )
        limit = self._ruleset.limits[by_limit.limit]
        kind = limit.kind
        return ProofFinding(
            "dead-by-limit",
            f"`{rule.id}` can never fire with `{limit.id}` at "
            f"{self._phrases.amount(limit.amount, kind)}: {why}",
            (rule.place, limit.place),
            (rule.id, limit.id),
            f"It fires again, for one, with `{limit.id}` at "
            f"{self._phrases.amount(by_limit.amount, kind)}.",
            Witness(with_written(self._program, by_limit.job), by_limit.needed, None, (rule.id,)),
            f"it would fire here with `{limit.id}` at "
            f"{self._phrases.amount(by_limit.amount, kind)}",
        )

    def _why_dead(self, index: int) -> str:
        """Which parts of its condition never hold together."""
        when = self._program.rules[index].rule.when
        parts = list(when.parts) if isinstance(when, All) else [when]
        kept = list(parts)
        for part in parts:
            fewer = [other for other in kept if other is not part]
            together = z3.And(*(self._encoding.truth(each).holds for each in fewer))
            if fewer and self._search.possible(together) is Answer.NONE:
                kept = fewer
        clauses = [self._phrases.clause(part) for part in kept]
        if len(clauses) == 1:
            return f"it never holds that {clauses[0]}"
        return f"it never holds together that {'; '.join(clauses)}"

    def _never_matter(self, cases: WorkedCases, effects: Effects, firing: set[int]) -> None:
        idle, settled = 0, True
        looked_at = sorted(firing - cases.mattered)
        for done, index in enumerate(looked_at):
            self._progress(_NEVER_MATTER, done, len(looked_at))
            ways = list(effects.ways(self._encoding, index))
            answers = list(self._answers(ways))
            known = cases.job_firing(index)
            if Answer.FOUND in answers:
                continue
            if known is not None and Answer.UNSETTLED in answers and self._near(known, ways):
                continue
            rule = self._program.rules[index].rule
            if Answer.UNSETTLED in answers:
                settled = False
                self._unsettled.add(rule.id)
                self._proof.not_proved.append(f"Whether {rule.id} ever makes a difference.")
                continue
            idle += 1
            self._proof.findings.append(self._idle(cases, index))
        if settled and not idle:
            self._proof.proved.append(
                "No idle rule: for each rule that fires there is a car of which something else "
                "would be said without it."
            )

    def _answers(self, ways: list[Matter]) -> Iterator[Answer]:
        for way in ways:
            found = self._search.car(way.formula, way.shows)
            yield found.answer
            if found.answer is Answer.FOUND:
                return

    def _near(self, known: JobFacts, ways: list[Matter]) -> bool:
        return any(self._cars.near(known, way.shows) is not None for way in ways)

    def _idle(self, cases: WorkedCases, index: int) -> ProofFinding:
        rule = self._program.rules[index].rule
        shows = fires(self._program, index)
        job = cases.job_firing(index)
        if job is None:
            job = self._search.car(self._encoding.rules[index].holds, shows).job
        others = cases.beside(index, job) if job is not None else ()
        witness = self._witness(job, shows) if job is not None else None
        beside = f", beside {', '.join(f'`{name}`' for name in others)}"
        return ProofFinding(
            "never-matters",
            f"`{rule.id}` never makes a difference but for its reason: whenever it fires, other "
            "rules give all that it gives",
            (rule.place, *(self._ruleset.rules[name].place for name in others)),
            (rule.id,),
            "Take it out, give it something of its own, or say in reviewed.yaml that it is there "
            "for its reason.",
            witness,
            f"it fires here{beside if others else ''}",
        )

    def _witness(self, job: JobFacts, shows: Shows) -> Witness:
        fewer, needed = cut(self._program, job, shows)
        evaluation = evaluate(self._program, fewer)
        return Witness(
            with_written(self._program, fewer),
            needed,
            settle(self._program, evaluation.panels[PANEL].truths).treatment,
            _firing(evaluation),
        )


def _firing(evaluation: Evaluation) -> tuple[str, ...]:
    truths = evaluation.panels[PANEL].truths
    return tuple(
        evaluation.program.rules[rule.index].rule.id
        for rule in evaluation.program.treatment_rules
        if truths[rule.index] is True
    )


def _standing(encoding: Encoding) -> Iterator[str]:
    """What no run of this proves, whatever it finds."""
    ruleset = encoding.ruleset
    free = [
        spec.id
        for spec in ruleset.facts.values()
        if spec.reckoned is not None and spec.reckoned not in RECKONINGS_BOUNDED
    ]
    gathered = [
        compiled.spec.id
        for compiled in encoding.program.facts.values()
        if compiled.spec.gathered is not None
        or (compiled.reckoning is not None and compiled.reckoning.compares)
    ]
    yield (
        "Reckoned facts were taken as free numbers within what is known of them, so nothing here "
        "shows that they are reckoned rightly"
        + (f"; of these nothing was known: {', '.join(free)}." if free else ".")
    )
    if gathered:
        touched = sorted(set(gathered) & _below_treatment(encoding))
        rests = (
            f"a treatment rests on {', '.join(touched)} among them"
            if touched
            else "no treatment rests on them, so this leaves no gap or conflict out"
        )
        yield (
            "Cars were taken with one panel; what several panels make together "
            f"({', '.join(gathered)}) was not looked at: {rests}."
        )
    yield (
        "Gaps were looked for where everything that applies is told and nothing is set aside; "
        "with something unknown, or where a reckoning fails and says why, a treatment may stay "
        "open, as it should."
    )
    yield "Told numbers were taken within their plausible range, beyond which they are refused."
    yield (
        "Whether the holds, cautions and steps of a car are all that it needs, and whether any "
        "limit or treatment is right, is for people to judge."
    )


def _below_treatment(encoding: Encoding) -> set[str]:
    """The facts that the treatment of a panel rests on, worked out ones included."""
    graph, found = encoding.program.graph, set[Node]()
    waiting: list[Node] = [TREATMENT_NODE]
    while waiting:
        node = waiting.pop()
        if node not in found:
            found.add(node)
            waiting += graph[node]
    return {node[1] for node in found if node[0] == "fact"}
