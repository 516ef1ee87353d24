"""Rule sets: read from YAML, checked, linked.

ruleset = load_ruleset(supplied_ruleset_folder())
"""

from engine.ruleset.load import load_ruleset
from engine.ruleset.model import (
    About,
    CaseSpec,
    Condition,
    FactKind,
    FactSpec,
    Limit,
    Rule,
    RuleSet,
    Source,
    SourceKind,
)

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
