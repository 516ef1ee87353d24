"""Loads the rule set asked for and decides a job, with the second engine watching if it can."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from engine.decision import Decision
from engine.facts import JobFacts
from engine.ruleset.model import RuleSet
from engine.words import speak

if TYPE_CHECKING:
    from engine.reasoning.second import SecondEngine


def load(folder: Path | None, *, with_cases: bool = False, language: str | None = None) -> RuleSet:
    """The rule set in `folder`, or the supplied one, with its texts in a language.

    From then on the program speaks that language; English without one. Raises RuleSetError or
    UsageError.
    """
    from engine.ruleset.cache import cached_ruleset
    from engine.supplied import supplied_ruleset_folder

    here = folder or supplied_ruleset_folder()
    ruleset = cached_ruleset(here, with_cases=with_cases)
    if language is not None:
        from engine.ruleset.speaking import in_language

        ruleset = in_language(ruleset, here, language)
    speak(ruleset.tongue)
    return ruleset


def second_engine(ruleset: RuleSet) -> SecondEngine | None:
    """The second engine ready for this rule set; None where it cannot run here."""
    from engine.reasoning import second
    from engine.reasoning.decide import inquiry_for

    if second.available() is not None:
        return None
    return second.SecondEngine(inquiry_for(ruleset).program)


def consult(
    ruleset: RuleSet,
    facts: JobFacts,
    *,
    one_engine: bool = False,
    watching: SecondEngine | None = None,
) -> Decision:
    """Decide a job with the second engine watching, unless `one_engine` or it cannot run here.

    `watching` is a second engine made before for the same rule set. Raises ReasoningDisagreement
    where the two engines conclude differently.
    """
    from engine.reasoning.decide import EVALUATOR, decide

    watching = None if one_engine else watching or second_engine(ruleset)
    if watching is None:
        return decide(ruleset, facts)
    return decide(ruleset, facts, watch=watching.watch(), engines=(EVALUATOR, watching.name))
