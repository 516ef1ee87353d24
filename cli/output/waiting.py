"""What was told and is not taken yet, and what has to be known before it is."""

from __future__ import annotations

from engine.reasoning.evaluate import Evaluation
from engine.reasoning.kleene import OPEN, UNSURE
from engine.ruleset.depends import facts_read
from engine.ruleset.model import FactSpec


def waits_for(evaluation: Evaluation, where: str | None, spec: FactSpec) -> tuple[str, ...]:
    """Titles of the facts a told fact waits for; none where it was taken or set aside."""
    subject, program = evaluation.subject(where), evaluation.program
    if spec.id not in subject.pending or spec.refusal is None:
        return ()
    return tuple(
        program.facts[fact].spec.title
        for fact in sorted(facts_read(spec.refusal.when), key=program.slots.__getitem__)
        if subject.vector[program.slots[fact]] in (OPEN, UNSURE)
    )
