"""An impact as plain data, `prepwright/impact/1`; see `shared/schemas/impact.schema.json`.

Amounts are in the canonical unit of their kind, rounded to six decimals.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, TypeVar

from engine.impact.cause import Cause
from engine.impact.report import Impact
from engine.impact.tally import Count, Example, Sum, Tally, Treated, Treatments
from engine.impact.versions import Version
from engine.quantity import Kind, canonical_unit, to_canonical
from engine.ruleset.model import Caution, HoldTopic, Product, RuleSet, Step
from engine.ruleset.work import Span

FORMAT = "prepwright/impact/1"
_DECIMALS = 6

Key = TypeVar("Key")


def impact_json(found: Impact) -> dict[str, Any]:
    return {
        "format": FORMAT,
        "changed": found.changed,
        "new": _version(found.new),
        "old": None if found.old is None else _version(found.old),
        "old_of_cases": _version(found.beside),
        "decisions": "every" if found.every else "last-of-each-job",
        "seal": found.seal,
        "stored": None if found.stored is None else _tally(found, found.stored),
        "cases": None if found.worked is None else _tally(found, found.worked),
    }


def title_of(found: Impact, what: str, name: str) -> str:
    """The title of a hold, caution, step or product in the new rules, or in the old ones."""
    for ruleset in (found.new.ruleset, found.beside.ruleset):
        part = _part(ruleset, what, name)
        if part is not None:
            return part.title
    return name


def _part(ruleset: RuleSet, what: str, name: str) -> HoldTopic | Caution | Step | Product | None:
    if what == "hold":
        return ruleset.holds.get(name)
    if what == "caution":
        return ruleset.cautions.get(name)
    return ruleset.steps.get(name) if what == "step" else ruleset.products.get(name)


def _version(version: Version) -> dict[str, Any]:
    ruleset = version.ruleset
    return {
        "named": version.named,
        "name": ruleset.name,
        "version": ruleset.version,
        "digest": ruleset.digest,
    }


def _tally(found: Impact, tally: Tally) -> dict[str, Any]:
    return {
        "all": tally.jobs,
        "same": tally.same,
        "changed": tally.changed,
        "not_compared": tally.failed,
        "treatments": [
            {
                "was": key.was,
                "now": key.now,
                "because": _causes(key.because),
                **_count(treatments.panels),
                "gained": _beside(found, treatments.gained),
                "lost": _beside(found, treatments.lost),
            }
            for key, treatments in treatments_in_order(tally)
        ],
        "given": [
            {
                "what": key.what,
                "name": key.name,
                "title": title_of(found, key.what, key.name),
                "gained": key.gained,
                "because": _causes(key.because),
                **_count(count),
            }
            for key, count in in_order(tally.given.items())
        ],
        "opened": _count(tally.opened),
        "closed": _count(tally.closed),
        "work": {
            "changed": tally.worked.jobs,
            "not_all_reckoned": tally.not_reckoned.jobs,
            "hours": _sum(tally.hours, Kind.TIME),
            "products": [
                {"product": id, "title": title_of(found, "product", id), **_sum(total, kind)}
                for (id, kind), total in tally.products.items()
                if total.jobs
            ],
            "sheets": [
                {"grade": grade, **_sum(total, Kind.NUMBER)}
                for grade, total in tally.sheets.items()
                if total.jobs
            ],
        },
        "facts": [{"fact": fact, **_count(count)} for fact, count in in_order(tally.facts.items())],
        "rules": [
            {"rule": rule, "fires": _of(tally.fires, rule), "quiet": _of(tally.quiet, rule)}
            for rule in dict.fromkeys((*tally.fires, *tally.quiet))
        ],
        "left_out": [
            {"fact": key.fact, "why": str(key.why), "rules": _which(old=key.old), **_count(count)}
            for key, count in in_order(tally.left_out.items())
        ],
        "failed": [
            {"job": each.job, "entry": each.entry, "why": each.why} for each in tally.shown_failed
        ],
    }


def treatments_in_order(tally: Tally) -> list[tuple[Treated, Treatments]]:
    """Changes of treatment, those that concern most panels first."""
    return sorted(tally.treated.items(), key=lambda pair: -pair[1].panels.subjects)


def in_order(counts: Iterable[tuple[Key, Count]]) -> list[tuple[Key, Count]]:
    """Those that concern most come first; of equals the one met first."""
    return sorted(counts, key=lambda pair: -pair[1].subjects)


def _beside(found: Impact, counts: Mapping[tuple[str, str], int]) -> list[dict[str, Any]]:
    return [
        {"what": what, "name": name, "title": title_of(found, what, name), "count": number}
        for (what, name), number in counts.items()
    ]


def _which(*, old: bool) -> str:
    return "old" if old else "new"


def _causes(causes: Iterable[Cause]) -> list[dict[str, str]]:
    return [{"rule": cause.rule, "how": str(cause.how)} for cause in causes]


def _of(counts: dict[str, Count], rule: str) -> dict[str, Any]:
    return _count(counts.get(rule, Count()))


def _count(count: Count) -> dict[str, Any]:
    return {
        "count": count.subjects,
        "jobs": count.jobs,
        "examples": [_example(example) for example in count.examples],
    }


def _example(example: Example) -> dict[str, Any]:
    return {"job": example.job, "entry": example.entry, "panel": example.panel}


def _sum(total: Sum, kind: Kind) -> dict[str, Any]:
    return {
        "jobs": total.jobs,
        "unit": canonical_unit(kind) or None,
        "before": _span(total.span_before, kind),
        "after": _span(total.span_after, kind),
    }


def _span(span: Span, kind: Kind) -> dict[str, float]:
    return {
        "low": round(float(to_canonical(span.low, kind)), _DECIMALS),
        "high": round(float(to_canonical(span.high, kind)), _DECIMALS),
    }
