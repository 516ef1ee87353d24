"""The record of a decision: what it was made from, by which rules, and what it said.

    {"asked": true, "inputs": {...}, "ruleset": {"digest": ..., "name": ..., "version": ...},
     "engines": [...], "firings": {"car": [...], "panels": {"bonnet": [...]}},
     "outcome": {...}, "program": "1.0.0"}

The outcome is kept with all its texts as they were shown; it is never worked out again for show.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

from engine.decision import Decision
from engine.facts import JobFacts
from engine.reasoning.decide import decide, decided, inquiry_for
from engine.reasoning.evaluate import Evaluation, Subject, evaluate
from engine.ruleset.model import RuleSet
from engine.trail.canonical import canonical, parse
from engine.trail.entry import Draft, Entry, EntryKind
from engine.trail.facts import job_from, job_payload
from engine.trail.store import Store
from engine.words import in_its_tongue


def deciding(
    ruleset: RuleSet, facts: JobFacts, decision: Decision, actor: str, *, asked: bool = True
) -> Draft:
    """The draft that records a decision; `asked` as `ask` was given to `decide`.

    Its rule set must be kept in the store it is added to. The record is kept in English, so that
    it can be read and replayed whatever language it was decided in.
    """
    if ruleset.original is not None:
        ruleset = ruleset.original
        decision = decide(ruleset, facts, engines=decision.engines, ask=asked)
    return Draft(
        EntryKind.DECISION,
        actor,
        {
            "asked": asked,
            "inputs": job_payload(facts),
            "ruleset": {
                "digest": ruleset.digest,
                "name": ruleset.name,
                "version": ruleset.version,
            },
            "engines": list(decision.engines),
            "firings": firings(ruleset, facts),
            "outcome": decision.as_json(),
            "program": program_version(),
        },
        facts.job,
    )


def record_decision(
    store: Store,
    ruleset: RuleSet,
    facts: JobFacts,
    decision: Decision,
    actor: str,
    *,
    asked: bool = True,
    expected_last: int | None = None,
) -> Entry:
    """Add a decision to the record of its job; see `deciding` and `Store.append`."""
    draft = deciding(ruleset, facts, decision, actor, asked=asked)
    return store.append(draft, expected_last=expected_last)[0]


@in_its_tongue
def decide_again(ruleset: RuleSet, recorded: Mapping[str, Any]) -> dict[str, Any]:
    """What the rules say today to the inputs of a recorded decision: its outcome and firings.

    `recorded` is the payload of its entry. Raises TrailError where the inputs cannot be read.
    """
    facts = job_from(recorded["inputs"])
    engines = tuple(str(name) for name in recorded["engines"])
    decision, evaluation = decided(ruleset, facts, engines=engines, ask=bool(recorded["asked"]))
    if any(panel.anyway is not None for panel in evaluation.panels.values()):
        # What fires in one way the open answers could turn out does not hold for certain.
        return {"firings": firings(ruleset, facts), "outcome": decision.as_json()}
    return {"firings": _firings(evaluation), "outcome": decision.as_json()}


def in_its_words(ruleset: RuleSet, recorded: Mapping[str, Any], panel: str) -> dict[str, Any]:
    """What was recorded of a panel, in the language of `ruleset` where its rules say the same.

    `recorded` is the payload of a decision. As recorded where the rule set is another one, or
    does not come to the very same.
    """
    found: dict[str, Any] = recorded["outcome"]["panels"][panel]
    if ruleset.original is None or recorded["ruleset"]["digest"] != ruleset.digest:
        return found
    facts, asked = job_from(recorded["inputs"]), bool(recorded["asked"])
    again = decide(ruleset.original, facts, ask=asked).as_json()["panels"][panel]
    if parse(canonical(again)) != found:
        return found
    said: dict[str, Any] = decide(ruleset, facts, ask=asked).as_json()["panels"][panel]
    return said


def firings(ruleset: RuleSet, facts: JobFacts) -> dict[str, Any]:
    """The rules that hold for certain, for the car and for each panel, in the rule set's order."""
    return _firings(evaluate(inquiry_for(ruleset).program, facts))


def _firings(evaluation: Evaluation) -> dict[str, Any]:
    return {
        "car": _firing(evaluation, evaluation.car),
        "panels": {name: _firing(evaluation, panel) for name, panel in evaluation.panels.items()},
    }


@cache
def program_version() -> str:
    """The version of prepwright that is running."""
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version("prepwright")
    except PackageNotFoundError:
        return "unknown"


def _firing(evaluation: Evaluation, subject: Subject) -> list[str]:
    rules = evaluation.program.rules
    return [rules[index].rule.id for index, truth in enumerate(subject.truths) if truth is True]
