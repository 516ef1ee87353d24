"""`why not strip the bonnet?`: which treatments and panels free words ask about."""

from __future__ import annotations

from collections.abc import Sequence

from cli.chat.bulk import match_panels
from cli.chat.meaning import DENYING, stems_of, words_of
from cli.chat.trouble import without_panels
from engine.reasoning.evaluate import Evaluation
from engine.reasoning.explain import Explainer
from engine.ruleset.model import RuleSet
from engine.words import say

_FILLING = frozenset(
    ("why", "not", "no", "is", "it", "was", "do", "does", "did", "we", "just", "to", "the", "be")
)


def denied(text: str) -> bool:
    """Whether a question asks why something is not so."""
    return not DENYING.isdisjoint(words_of(text))


def asked_about(
    ruleset: RuleSet, panels: Sequence[str], text: str
) -> tuple[tuple[str, ...], tuple[str, ...], str]:
    """The treatments and panels that a text names, and the words that name neither."""
    whole = match_panels(text, panels)
    named, rest = (whole, "") if whole else without_panels(text, panels)
    treatments, left = _treatments(ruleset, rest)
    if not treatments:
        # The word for a treatment may be a word of a panel's name as well.
        treatments, left = _treatments(ruleset, text)
        named = () if treatments else named
        left = left if treatments else _treatments(ruleset, rest)[1]
    return treatments, named, left


def answers(evaluation: Evaluation, treatments: Sequence[str], panels: Sequence[str]) -> list[str]:
    """Why panels did not get treatments, once for all panels of which the same is true."""
    explainer = Explainer(evaluation)
    found: dict[tuple[str, str], list[str]] = {}
    for treatment in treatments:
        for panel in panels:
            found.setdefault((treatment, explainer.why_not(panel, treatment)), []).append(panel)
    return [
        line
        for (treatment, why), those in found.items()
        for line in (
            say(
                "{panels}: why not {treatment}",
                panels=", ".join(those),
                treatment=explainer.wording.treatment(treatment),
            ),
            f"  {why}",
        )
    ]


def _treatments(ruleset: RuleSet, text: str) -> tuple[tuple[str, ...], str]:
    """Treatments by id or title, the longest name first, and the words left over."""
    words = words_of(text)
    stems = stems_of(words)
    names = sorted(
        (
            (stems_of(words_of(name)), each.id)
            for each in ruleset.treatments.values()
            for name in (each.id, each.title)
        ),
        key=lambda pair: -len(pair[0]),
    )
    found: dict[str, None] = {}
    for name, id in names:
        for start in range(len(stems) - len(name) + 1):
            if stems[start : start + len(name)] == name:
                found[id] = None
                stems = (*stems[:start], *stems[start + len(name) :])
                words = (*words[:start], *words[start + len(name) :])
                break
    kept = tuple(each for each in ruleset.treatments if each in found)
    return kept, " ".join(word for word in words if word not in _FILLING)
