"""Told facts laid under a rule set that may not know them, or not as they were told."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction

from engine.facts import FactValue, JobFacts, Sheet, Told
from engine.quantity.units import KINDS, dimensions_of
from engine.ruleset.model import FactKind, FactSpec, RuleSet


class Misfit(StrEnum):
    """Why a told fact cannot be put to a rule set."""

    UNKNOWN = "unknown"
    NOT_TOLD = "not-told"
    OTHER_SUBJECT = "other-subject"
    OTHER_VALUE = "other-value"


@dataclass(frozen=True, slots=True, order=True)
class Unfit:
    """A told fact that was left out, since the rule set cannot take it."""

    fact: str
    why: Misfit


def fitted(ruleset: RuleSet, facts: JobFacts) -> tuple[JobFacts, tuple[Unfit, ...]]:
    """The facts that this rule set can take, and those left out, each named once."""
    left_out = {
        (panel, fact): Unfit(fact, why)
        for about, panel, fact, told in facts
        if (why := _misfit(ruleset.facts.get(fact), about, told)) is not None
    }
    if not left_out:
        return facts, ()

    def kept(panel: str | None, sheet: Sheet) -> Sheet:
        return {fact: told for fact, told in sheet.items() if (panel, fact) not in left_out}

    fitting = replace(
        facts,
        shop=kept(None, facts.shop),
        car=kept(None, facts.car),
        panels={name: kept(name, sheet) for name, sheet in facts.panels.items()},
    )
    return fitting, _once(left_out.values())


def _once(unfit: Iterable[Unfit]) -> tuple[Unfit, ...]:
    return tuple(sorted(set(unfit)))


def _misfit(spec: FactSpec | None, about: str, told: Told) -> Misfit | None:
    if spec is None:
        return Misfit.UNKNOWN
    if not spec.told:
        return Misfit.NOT_TOLD
    if spec.about != about:
        return Misfit.OTHER_SUBJECT
    if told.value is not None and not (_is_of(spec, told.value) and _measures(spec, told.unit)):
        return Misfit.OTHER_VALUE
    return None


def _is_of(spec: FactSpec, value: FactValue) -> bool:
    match spec.kind:
        case FactKind.QUANTITY:
            return isinstance(value, Fraction)
        case FactKind.LIST:
            return isinstance(value, tuple)
        case FactKind.SET:
            return isinstance(value, frozenset) and value <= frozenset(spec.choice_ids)
        case FactKind.TEXT:
            return isinstance(value, str)
        case _:
            return isinstance(value, str) and value in spec.choice_ids


def _measures(spec: FactSpec, unit: str | None) -> bool:
    """Whether a unit that was written measures what the fact is a quantity of."""
    if unit is None or spec.quantity is None:
        return True
    return KINDS[spec.quantity].dimension in dimensions_of(unit)
