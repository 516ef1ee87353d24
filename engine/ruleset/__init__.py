"""Rule sets: read from YAML, checked, linked.

ruleset = load_ruleset(supplied_ruleset_folder())
"""

from typing import TYPE_CHECKING, Any

from engine.ruleset.model import (
    About,
    CaseSpec,
    Condition,
    FactKind,
    FactSpec,
    Limit,
    Rule,
    RuleSet,
)
from engine.ruleset.source import Source, SourceKind

if TYPE_CHECKING:
    from engine.ruleset.load import load_ruleset

__all__ = [
    "About",
    "CaseSpec",
    "Condition",
    "FactKind",
    "FactSpec",
    "Limit",
    "Rule",
    "RuleSet",
    "Source",
    "SourceKind",
    "load_ruleset",
]


def __getattr__(name: str) -> Any:
    # Who only decides by a rule set needs nothing of what reads its files.
    if name == "load_ruleset":
        from engine.ruleset.load import load_ruleset

        return load_ruleset
    raise AttributeError(name)
