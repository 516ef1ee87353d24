"""Why an outcome came about, as a tree down to what was measured, and why another did not."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from fractions import Fraction

from engine.facts import Told
from engine.reasoning.evaluate import Evaluation, Subject
from engine.reasoning.kleene import NOT_APPLICABLE, OPEN, UNSURE, Truth
from engine.reasoning.program import CompiledFact, CompiledRule
from engine.reasoning.settling import most_telling, settle, still_deciding
from engine.reasoning.wording import Wording
from engine.reckoning.reckoners import Reckoner
from engine.reckoning.reckoners.shown import SHOWN
from engine.records import dataclass
from engine.ruleset.model import All, Condition, Leaf, Not, Rule
from engine.ruleset.names import TREATMENT
from engine.ruleset.source import Source
from engine.words import say


@dataclass(frozen=True, slots=True)
class Reason:
    """One node of an explanation.

    `kind` is `treatment`, `rule`, `test`, `group`, `fact`, or below a reckoned fact `reckoning`
    (the numbers put in) and `limit` (what of the rule set went into it). `truth` tells whether the
    rule or test holds (None: open). `told` carries who, when and with what for a told fact, and
    `where` the panel it is about.
    """

    kind: str
    text: str
    truth: Truth = True
    name: str | None = None
    source: Source | None = None
    told: Told | None = None
    parts: tuple[Reason, ...] = ()
    where: str | None = None

    def walk(self) -> Iterator[tuple[int, Reason]]:
        """This node and everything below it, with its depth."""
        yield 0, self
        for part in self.parts:
            for depth, reason in part.walk():
                yield depth + 1, reason


@dataclass(frozen=True, slots=True)
class Explainer:
    """Explains one evaluation."""

    evaluation: Evaluation

    @property
    def wording(self) -> Wording:
        return Wording(self.evaluation)

    def treatment(self, panel: str) -> Reason:
        """Why a panel got its treatment: the winning rules, down to what was told."""
        program = self.evaluation.program
        subject = self.evaluation.panels[panel]
        settled = settle(program, subject.truths)
        if settled.treatment is None:
            could = ", ".join(map(self.wording.treatment, settled.possible)) or say("none")
            waiting = still_deciding(program.treatment_rules, subject.truths)
            return Reason(
                "treatment",
                say("open; still possible: {treatments}", treatments=could),
                None,
                parts=tuple(self.rule(program.rules[index], panel) for index in waiting),
            )
        title = program.ruleset.treatments[settled.treatment].title
        return Reason(
            "treatment",
            f"{settled.treatment}: {title}",
            name=settled.treatment,
            parts=tuple(
                self.rule(program.rules[index], panel)
                for index in most_telling(program, settled.winners)
            ),
        )

    def rule(self, compiled: CompiledRule, where: str | None) -> Reason:
        """A rule with its tests and the facts they rest on."""
        subject = self.evaluation.subject(where)
        rule = compiled.rule
        when = self._condition(rule.when, where, frozenset((rule.id,)))
        return Reason(
            "rule",
            self.wording.because(rule, where),
            subject.truths[compiled.index],
            rule.id,
            rule.source,
            parts=when.parts if isinstance(rule.when, All) else (when,),
        )

    def _condition(
        self, condition: Condition, where: str | None, seen: frozenset[str], negated: bool = False
    ) -> Reason:
        truth = self._truth(condition, where)
        truth = truth if not negated or truth is None else not truth
        if isinstance(condition, Leaf):
            fact = self.fact(condition.fact, where, seen)
            text = f"{self.wording.test(condition, negated=negated)}"
            return Reason(
                "test", text, truth, condition.limit, self._limit(condition), None, (fact,)
            )
        if isinstance(condition, Not):
            return self._condition(condition.part, where, seen, not negated)
        both = isinstance(condition, All) is not negated
        return Reason(
            "group",
            say("all of") if both else say("any of"),
            truth,
            parts=tuple(self._condition(part, where, seen, negated) for part in condition.parts),
        )

    def _limit(self, leaf: Leaf) -> Source | None:
        return self.evaluation.program.ruleset.limits[leaf.limit].source if leaf.limit else None

    def _truth(self, condition: Condition, where: str | None) -> Truth:
        check = self.evaluation.program.check(condition)
        return check(self.evaluation.subject(where).vector)

    def fact(self, name: str, where: str | None, seen: frozenset[str] = frozenset()) -> Reason:
        """A fact with its value and, below it, what it was reckoned or concluded from."""
        program = self.evaluation.program
        if name == TREATMENT:
            state = self.wording.state(self.evaluation.subject(where), name)
            text = say("treatment: {treatment}", treatment=state)
            return Reason("fact", text, name=name)
        spec = program.facts[name].spec
        home = where if spec.about == "panel" else None
        subject = self.evaluation.subject(home)
        text = f"{spec.title}: {self.wording.state(subject, name)}"
        if name in subject.refused:
            why = self.wording.fill(subject.refused[name], home)
            text += " " + say("(set aside: {why})", why=why)
        if name in subject.failed:
            text += f" ({subject.failed[name]})"
        told = self._told(name, home)
        if told is None and spec.assume is not None and spec.told:
            text += " " + say("(assumed, nobody said otherwise)")
        below = self._below(name, home, seen)
        return Reason("fact", text, name=name, told=told, parts=below, where=home)

    def _told(self, name: str, where: str | None) -> Told | None:
        spec = self.evaluation.program.facts[name].spec
        return self.evaluation.job.sheet(str(spec.about), where).get(name)

    def _below(self, name: str, where: str | None, seen: frozenset[str]) -> tuple[Reason, ...]:
        program = self.evaluation.program
        compiled = program.facts[name]
        if name in seen:
            return ()
        seen |= {name}
        if compiled.reckoner is not None:
            return self._reckoned_from(compiled, where, seen)
        subject = self.evaluation.subject(where)
        state = subject.vector[compiled.slot]
        reasons: list[Reason] = []
        concluders = compiled.concluders
        for index, value in concluders:
            rule = program.rules[index]
            fires = subject.truths[index] is True and value == state
            if rule.rule.id not in seen and (
                fires or (state is OPEN and subject.truths[index] is None)
            ):
                reasons.append(self.rule(rule, where))
        if not reasons and state is not OPEN and state is not NOT_APPLICABLE:
            reasons += [self._quiet(program.rules[index], where, seen) for index, _ in concluders]
        return tuple(reasons)

    def _quiet(self, compiled: CompiledRule, where: str | None, seen: frozenset[str]) -> Reason:
        """A rule that did not fire: what it would have needed, and the facts that kept it quiet."""
        rule = compiled.rule
        lacking = self._lacked(rule.when, where, negated=False)
        needs = say("; and ").join(self._lacking(leaf, where, to_fail) for leaf, to_fail in lacking)
        facts = dict.fromkeys(leaf.fact for leaf, _ in lacking)
        return Reason(
            "rule",
            say("would need {needs}", needs=needs),
            False,
            rule.id,
            rule.source,
            parts=tuple(self.fact(fact, where, seen) for fact in facts if fact not in seen),
        )

    def _reckoned_from(
        self, compiled: CompiledFact, where: str | None, seen: frozenset[str]
    ) -> tuple[Reason, ...]:
        """What a fact was reckoned from; of other panels their values alone."""
        reckoner, reckoning = compiled.reckoner, compiled.reckoning
        assert reckoner is not None
        assert reckoning is not None
        slots = self.evaluation.program.slots
        subject = self.evaluation.subject(where)
        also = (
            read
            for read in reckoner.also
            if read in slots and subject.vector[slots[read]] is not NOT_APPLICABLE
        )
        reasons = [*self._put_in(compiled, subject), *self._rule_set_parts(reckoner)]
        reasons += [self.fact(read, where, seen) for read in (*reckoner.reads, *also)]
        for name, panel in self.evaluation.panels.items():
            if panel is subject or not (reckoning.compares and reckoning.counts(subject, panel)):
                continue
            for read in reckoner.panels:
                reason = self.fact(read, name, seen)
                reasons.append(replace(reason, text=f"{name}: {reason.text}", parts=()))
        return tuple(reasons)

    def _put_in(self, compiled: CompiledFact, subject: Subject) -> Iterator[Reason]:
        """The reckoning of a known fact with the numbers that were put in."""
        reckoning, name = compiled.reckoning, compiled.spec.reckoned
        state = subject.vector[compiled.slot]
        if reckoning is None or state is OPEN or state is UNSURE or state is NOT_APPLICABLE:
            return
        others = (panel for panel in self.evaluation.panels.values() if panel is not subject)
        given = reckoning.given(subject, self.evaluation.car, others)
        if given is not None and name is not None:
            yield Reason("reckoning", self.wording.put_in(SHOWN[name](given)))

    def _rule_set_parts(self, reckoner: Reckoner) -> Iterator[Reason]:
        ruleset = self.evaluation.program.ruleset
        for name in reckoner.limits:
            value = f"{self.wording.limit(name)}{self.wording.shop_limit(name)}"
            limit = say("limit {name}: {value}", name=name, value=value)
            yield Reason("limit", limit, name=name, source=ruleset.limits[name].source)
        for name in reckoner.tables:
            yield Reason(
                "limit",
                say("table {name}", name=name),
                name=name,
                source=ruleset.tables[name].source,
            )

    # --- why not -------------------------------------------------------------------------------

    def why_not(self, panel: str, treatment: str) -> str:
        """One sentence on why a panel did not get a treatment."""
        program = self.evaluation.program
        subject = self.evaluation.panels[panel]
        settled = settle(program, subject.truths)
        if settled.treatment == treatment:
            return say("It is the treatment that was decided.")
        for index, beaten_by in settled.losers:
            rule = program.rules[index].rule
            if rule.then.treatment != treatment:
                continue
            if beaten_by:
                winner = program.rules[beaten_by[0]].rule
                return say(
                    "{rule} asked for it, but {winner} beats that rule.",
                    rule=rule.id,
                    winner=winner.id,
                )
            winner = program.rules[settled.winners[0]].rule
            return say(
                "{rule} asked for it, but {winner} goes deeper.", rule=rule.id, winner=winner.id
            )
        nearest = self._nearest(program.giving(treatment), panel)
        if nearest is None:
            return say("No rule gives it.")
        rule_id, missing = nearest
        needs = say("; and ").join(missing)
        return say("Nearest rule {rule} would need {needs}.", rule=rule_id, needs=needs)

    def _nearest(self, rules: Iterable[CompiledRule], panel: str) -> tuple[str, list[str]] | None:
        best: tuple[str, list[tuple[Leaf, bool]]] | None = None
        for compiled in rules:
            lacked = self._lacked(compiled.rule.when, panel, negated=False)
            if lacked and (best is None or len(lacked) < len(best[1])):
                best = compiled.rule.id, lacked
        if best is None:
            return None
        return best[0], [self._lacking(leaf, panel, to_fail) for leaf, to_fail in best[1]]

    def missing(self, rule: Rule, where: str | None, *, to_fire: bool = True) -> list[str]:
        """The fewest tests that would have to turn out otherwise for a rule to fire.

        Without `to_fire`: for it not to fire. Empty where it already is so.
        """
        return self._missing(rule.when, where, negated=not to_fire)

    def _missing(self, condition: Condition, where: str | None, *, negated: bool) -> list[str]:
        lacked = self._lacked(condition, where, negated=negated)
        return [self._lacking(leaf, where, to_fail) for leaf, to_fail in lacked]

    def _lacked(
        self, condition: Condition, where: str | None, *, negated: bool
    ) -> list[tuple[Leaf, bool]]:
        """The fewest tests in the way, each with whether it would have to fail."""
        truth = self._truth(condition, where)
        if truth is not None and truth is not negated:
            return []
        if isinstance(condition, Leaf):
            return [(condition, negated)]
        if isinstance(condition, Not):
            return self._lacked(condition.part, where, negated=not negated)
        parts = [self._lacked(part, where, negated=negated) for part in condition.parts]
        if isinstance(condition, All) is not negated:
            return [leaf for part in parts for leaf in part]
        return min(parts, key=len)

    def _lacking(self, leaf: Leaf, where: str | None, negated: bool) -> str:
        wanted = self.wording.test(leaf, negated=negated)
        program = self.evaluation.program
        subject = self.evaluation.subject(where)
        state = subject.vector[program.slots[leaf.fact]]
        if state is OPEN or state is UNSURE:
            return f"{wanted} ({say('not known')})"
        if state is NOT_APPLICABLE:
            return f"{wanted} ({say('not applicable')})"
        found = self.wording.state(subject, leaf.fact)
        known = subject.exact.get(program.slots[leaf.fact])
        return (
            wanted
            + " "
            + say("(it is {found}{gap})", found=found, gap=self._by_how_much(leaf, known))
        )

    def _by_how_much(self, leaf: Leaf, known: object) -> str:
        if not isinstance(known, Fraction) or not isinstance(leaf.operand, Fraction):
            return ""
        gap = abs(known - leaf.operand)
        if not gap:
            return say(", just at it")
        return say(", {amount} away", amount=self.wording.gap(leaf.fact, gap))
