"""Loads the rule set asked for and decides a job, with the second engine watching if it can."""

from __future__ import annotations

from pathlib import Path

from engine.decision import Decision
from engine.facts import JobFacts
from engine.ruleset.model import RuleSet


def load(folder: Path | None, *, with_cases: bool = False) -> RuleSet:
    """The rule set in `folder`, or the supplied one. Raises RuleSetError or UsageError."""
    from engine.ruleset.load import load_ruleset
    from engine.supplied import supplied_ruleset_folder

    return load_ruleset(folder or supplied_ruleset_folder(), with_cases=with_cases)


def consult(ruleset: RuleSet, facts: JobFacts, *, one_engine: bool = False) -> Decision:
    """Decide a job. Raises ReasoningDisagreement where the two engines conclude differently."""
    from engine.reasoning import second
    from engine.reasoning.decide import EVALUATOR, decide, inquiry_for

    if one_engine or second.available() is not None:
        return decide(ruleset, facts)
    engine = second.SecondEngine(inquiry_for(ruleset).program)
    return decide(ruleset, facts, watch=engine.watch(), engines=(EVALUATOR, engine.name))
