"""Facts asked in the same breath: which of them is to be told, or told anew, before another."""

from __future__ import annotations

from engine.reasoning.evaluate import Evaluation
from engine.reasoning.tracing import Where
from engine.ruleset.depends import facts_read


def is_due(evaluation: Evaluation, where: Where, fact: str, asked: str) -> bool:
    """Whether `fact` is to be told, or told anew, before the fact `asked` it goes along with."""
    about = evaluation.program.facts[fact].spec.about
    return (
        fact not in evaluation.job.sheet(str(about), where)
        or asked in evaluation.subject(where).refused
        or is_vain(evaluation, where, fact, asked)
    )


def is_vain(evaluation: Evaluation, where: Where, fact: str, asked: str) -> bool:
    """Whether any answer to what is asked would be set aside, by what `fact` was told as."""
    compiled = evaluation.program.facts[asked]
    refusal = compiled.spec.refusal
    if refusal is None or compiled.refused is None or fact not in facts_read(refusal.when):
        return False
    return compiled.refused(evaluation.subject(where).vector) is True
