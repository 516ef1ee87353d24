"""Records what was decided, and the seals printed under it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from engine.words import say

if TYPE_CHECKING:
    from engine.decision import Decision
    from engine.facts import JobFacts
    from engine.ruleset.model import RuleSet
    from engine.trail import Store


def record(
    store: Store,
    folder: Path | None,
    ruleset: RuleSet,
    facts: JobFacts,
    decision: Decision,
    actor: str,
    *,
    expected_last: int | None = None,
) -> int:
    """Record a decision of a job with the rule set it was taken under; returns its number.

    That the rules are others than those of the decision before is recorded too.

    `folder` is where that rule set was loaded from, None for the supplied one.
    """
    from engine.supplied import supplied_ruleset_folder
    from engine.trail.deciding import record_decision
    from engine.trail.rulesets import files_of, keep_files, note_change

    with store.writing():
        keep_files(store, ruleset, files_of(folder or supplied_ruleset_folder()), actor)
        note_change(store, ruleset, actor)
        return record_decision(
            store, ruleset, facts, decision, actor, expected_last=expected_last
        ).sequence


def sealed(store: Store, actor: str, on: str, job: str) -> str:
    """A line with the seal of the record as it stands; that it was printed is recorded too."""
    return f"{say('Seal of the record')}: {store.print_seal(actor, on, job)}"


def pinned(store: Store) -> str:
    """A line with the seal of the record as it stands, for what has just added to it.

    That it was printed is noted beside the chain: no entry tells of it, as one would after every
    finished step.
    """
    return f"{say('Seal of the record')}: {store.pin()}"
