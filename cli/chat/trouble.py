"""Faults after spraying, by conversation: which questions part the causes, and what came of it.

All of it is read off the rules: a fault is a choice of the fact of faults, the causes are the
rules that test it, and the remedy is the steps they bring.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from cli.chat.bulk import match_panels
from cli.chat.meaning import beyond, meant
from engine.choices import choices_of
from engine.errors import InputError, Problem
from engine.facts import JobFacts
from engine.plaintext import quoted
from engine.reasoning.asking import Inquiry
from engine.reasoning.evaluate import Evaluation
from engine.reasoning.kleene import UNSURE
from engine.reasoning.tracing import Unknown
from engine.reasoning.wording import Wording
from engine.records import dataclass
from engine.ruleset.depends import facts_read, leaves
from engine.ruleset.model import FactKind, FactSpec, Leaf, Rule, RuleSet
from engine.words import say

FAULTS = "finish.defects"
"""The fact that holds the faults of a new finish."""

BACK_TO = "finish.back-to"
"""The fact that says how far back the work goes."""


_PUNCTUATION = ".,;:!?"
_BINDING = frozenset(
    (
        "the",
        "and",
        "with",
        "for",
        "near",
        "below",
        "above",
        "under",
        "over",
        "los",
        "las",
        "del",
        "con",
    )
)


@dataclass(frozen=True, slots=True)
class Trouble:
    """What was understood: panels, and answers to facts of the finish, the faults first."""

    panels: tuple[str, ...]
    answers: tuple[tuple[FactSpec, str], ...]

    @property
    def sure(self) -> bool:
        """Whether the words named one fault alone; several may be two names of the same."""
        return ", " not in self.answers[0][1]

    def said(self) -> str:
        """What was understood, in words."""
        return "; ".join(f"{spec.title}: {_titles(spec, text)}" for spec, text in self.answers)


def fault_fact(ruleset: RuleSet) -> FactSpec | None:
    """The fact of faults, where the rule set has one."""
    spec = ruleset.facts.get(FAULTS)
    return spec if spec and spec.kind is FactKind.SET else None


def understood(ruleset: RuleSet, job: JobFacts, text: str) -> Trouble | None:
    """A fault named in free words, `fisheyes in the clear on the roof`; None where none is.

    Panels named are taken out first; with none named and one panel in the job, it is that one.
    """
    spec = fault_fact(ruleset)
    if spec is None:
        return None
    panels, rest = without_panels(text, tuple(job.panels))
    faults = [fault for fault in meant(spec, rest) if fault != spec.alone]
    if not faults:
        return None
    answers = [(spec, ", ".join(faults))]
    for other in _about_faults(ruleset, faults):
        found = meant(other, _beyond_faults(spec, rest))
        if other.kind is FactKind.CHOICE and len(found) == 1:
            answers.append((other, found[0]))
    if not panels and len(job.panels) == 1:
        panels = tuple(job.panels)
    return Trouble(panels, tuple(answers))


def under_way(ruleset: RuleSet, job: JobFacts, text: str) -> tuple[str, ...]:
    """Panels named whose faults were told before, to be looked into again."""
    spec = fault_fact(ruleset)
    if spec is None:
        return ()
    found = []
    for panel in match_panels(text, tuple(job.panels)):
        told = job.panels[panel].get(spec.id)
        if told and isinstance(told.value, frozenset) and told.value - {spec.alone}:
            found.append(panel)
    return tuple(found)


def refuse(ruleset: RuleSet, text: str) -> InputError:
    """Why a fault could not be understood."""
    spec = fault_fact(ruleset)
    if spec is None:
        return InputError(
            Problem(
                "no-faults",
                say("the rule set {name} has no faults after spraying", name=ruleset.name),
            )
        )
    known = ", ".join(choice.id for choice in choices_of(spec) if choice.id != spec.alone)
    named = (
        say("no fault was understood in {text}", text=quoted(text))
        if text.strip()
        else say("say which fault")
    )
    return InputError(
        Problem(
            "unknown-fault",
            named,
            fix=say("For example: trouble fisheyes roof. The faults: {known}.", known=known),
        )
    )


def parting(inquiry: Inquiry, evaluation: Evaluation, panel: str) -> Iterator[Unknown]:
    """Unknowns of a panel that apply and on which an open rule about its faults rests."""
    about = {
        compiled.index
        for compiled in inquiry.program.rules
        # What a fault rule concludes is the way back, and other rules go on from there.
        if facts_read(compiled.rule.when) & {FAULTS, BACK_TO}
    }
    vector, slots = evaluation.panels[panel].vector, inquiry.program.slots
    for unknown, stake in inquiry.stakes(evaluation).items():
        asked = stake.applies and vector[slots[unknown[1]]] is not UNSURE
        if unknown[0] == panel and asked and about & stake.rules:
            yield unknown


def fault_rules(ruleset: RuleSet) -> list[Rule]:
    """The rules that test the faults themselves."""
    return [rule for rule in ruleset.rules.values() if FAULTS in facts_read(rule.when)]


def diagnosis(evaluation: Evaluation, panel: str) -> list[str]:
    """Cause with reasons, how far back, remedy and how to keep from it, line by line."""
    program = evaluation.program
    ruleset, subject, wording = program.ruleset, evaluation.panels[panel], Wording(evaluation)
    about = {rule.id for rule in fault_rules(ruleset)}
    fired = [
        compiled.rule
        for compiled in program.rules
        if compiled.rule.id in about and subject.truths[compiled.index] is True
    ]
    lines = [f"{panel}: {wording.state(subject, FAULTS)}"]
    if not fired:
        return [*lines, say("  No rule of the rule set fits; ask the lead before it is touched.")]
    lines.append(say("Why:"))
    lines += [f"  {wording.because(rule, panel)} ({rule.source})" for rule in fired]
    if BACK_TO in program.slots:
        spec = program.facts[BACK_TO].spec
        lines.append(
            say("How far back: {titles}.", titles=_titles(spec, wording.state(subject, BACK_TO)))
        )
    steps = _steps(evaluation, panel, fired)
    lines += [say("What to do, and how to keep from it:")] if steps else []
    for step in steps:
        found = ruleset.steps[step]
        lines.append(f"  {found.title}: {found.text} ({found.source})")
    holds = dict.fromkeys(hold for rule in fired for hold in rule.then.holds)
    lines += [
        say(
            "Hold: {title}. {release}",
            title=ruleset.holds[hold].title,
            release=ruleset.holds[hold].release,
        )
        for hold in holds
    ]
    return lines


def finding(evaluation: Evaluation, panel: str) -> str:
    """The diagnosis in one line, for the record: fault, way back and the rules that say so."""
    program, subject = evaluation.program, evaluation.panels[panel]
    wording, about = Wording(evaluation), {rule.id for rule in fault_rules(program.ruleset)}
    fired = [
        compiled.rule.id
        for compiled in program.rules
        if compiled.rule.id in about and subject.truths[compiled.index] is True
    ]
    back = (
        say("; back to: {state}", state=wording.state(subject, BACK_TO))
        if BACK_TO in program.slots
        else ""
    )
    rules = ", ".join(fired) or say("none fits")
    return say(
        "Looked into faults of {panel}: {state}{back}; rules: {rules}",
        panel=panel,
        state=wording.state(subject, FAULTS),
        back=back,
        rules=rules,
    )


def _steps(evaluation: Evaluation, panel: str, fired: Sequence[Rule]) -> list[str]:
    """The steps of the fault rules and of what they conclude, without repeats."""
    subject, found = evaluation.panels[panel], dict[str, None]()
    for rule in fired:
        found.update(dict.fromkeys(rule.then.steps))
    for compiled in evaluation.program.rules:
        if subject.truths[compiled.index] is True and BACK_TO in facts_read(compiled.rule.when):
            found.update(dict.fromkeys(compiled.rule.then.steps))
    return list(found)


def _about_faults(ruleset: RuleSet, faults: Sequence[str]) -> list[FactSpec]:
    """Told facts that are asked only where one of these faults is there."""
    return [
        spec
        for spec in ruleset.facts.values()
        if spec.told
        and spec.ask_when is not None
        and any(
            leaf.fact == FAULTS and not set(faults).isdisjoint(map(str, _members(leaf)))
            for leaf in leaves(spec.ask_when)
        )
    ]


def _members(leaf: Leaf) -> frozenset[str | Fraction]:
    return leaf.operand if isinstance(leaf.operand, frozenset) else frozenset()


def _beyond_faults(spec: FactSpec, text: str) -> str:
    """The words that do not name the fault: in `fisheyes in the clear` those from `in` on."""
    _, found, tail = f" {text} ".partition(" in ")
    return tail if found else beyond(spec, text)


def without_panels(text: str, panels: Sequence[str]) -> tuple[tuple[str, ...], str]:
    """Panels named in a text and the text without them: whole names first, then the longest part.

    A part of a name has to hold more than words that bind others: `the` names no panel.
    """
    words = text.split()
    named = [word.strip(_PUNCTUATION) for word in words]
    whole = {panel.casefold(): panel for panel in panels}
    for length in range(len(words), 0, -1):
        for start in range(len(words) - length + 1):
            panel = whole.get(" ".join(named[start : start + length]).casefold())
            if panel is not None:
                return (panel,), " ".join([*words[:start], *words[start + length :]])
    for length in range(len(words), 0, -1):
        for start in range(len(words) - length + 1):
            run = named[start : start + length]
            if not all(len(word) > 2 for word in run) or _BINDING.issuperset(map(str.lower, run)):
                continue
            found = match_panels(" ".join(run), panels)
            if found:
                return found, " ".join([*words[:start], *words[start + length :]])
    return (), text


def _titles(spec: FactSpec, text: str) -> str:
    titles = {choice.id: choice.text for choice in choices_of(spec)}
    return ", ".join(titles.get(name.strip()) or name.strip() for name in text.split(","))
