"""Checks that need the whole rule set: what is concluded, reckoned, beaten, and what goes round."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

from engine.errors import Place
from engine.ruleset.depends import (
    TREATMENT_NODE,
    Graph,
    Node,
    Reckoners,
    cycles,
    dependencies,
)
from engine.ruleset.entries import Entries
from engine.ruleset.model import FactKind, FactSpec, Limit, Rule
from engine.ruleset.names import TREATMENT, may_read
from engine.ruleset.report import Report, near


def check_shared_ids(facts: Entries, limits: Entries, report: Report) -> None:
    """A text names facts and limits alike, so no id may stand for both."""
    for id, entry in limits.items():
        if id in facts:
            report.add(
                "id-shared",
                f"`{id}` is a limit here and a fact at {facts[id].name_place}",
                entry.name_place,
                "Give one of them another name; texts could not tell them apart.",
            )


def check_alongside(facts: Mapping[str, FactSpec | None], entries: Entries, report: Report) -> None:
    """Facts asked in the same breath exist, are told, and are known by then whom they are about."""
    for id, entry in entries.items():
        spec = facts.get(id)
        for index, other in enumerate(entry.get("alongside") or ()):
            place = entry.place("alongside", index)
            if other not in facts:
                report.add("unknown-fact", f"there is no fact `{other}`", place, near(other, facts))
                continue
            beside = facts[other]
            if beside is None or spec is None:
                continue
            if not beside.told:
                report.add(
                    "alongside-not-told",
                    f"nobody tells `{other}`, so it cannot be asked alongside",
                    place,
                    "Name facts that people tell.",
                )
            elif not may_read(spec.about, beside.about):
                report.add(
                    "reads-panel-fact",
                    f"`{id}` is about the {spec.about} and `{other}` about a panel",
                    place,
                    "Ask it alongside a fact of the panel.",
                )


def check_concluded(facts: Mapping[str, FactSpec | None], rules: Entries, report: Report) -> None:
    """Every concluded fact is concluded by a rule."""
    concluded: set[str] = set()
    for entry in rules.values():
        then = entry.data.get("then")
        conclude = then.get("conclude") if isinstance(then, Mapping) else None
        if isinstance(conclude, Mapping):
            concluded.update(conclude)
    for spec in facts.values():
        if spec is not None and spec.otherwise is not None and spec.id not in concluded:
            report.add(
                "concluded-by-no-rule",
                f"no rule concludes `{spec.id}`, so it would always be `{spec.otherwise}`",
                spec.place,
                f"Conclude it in a rule, as in `then: {{conclude: {{{spec.id}: ...}}}}`, "
                "or take the fact out.",
            )


def check_reckoned(
    facts: Mapping[str, FactSpec | None],
    limits: Mapping[str, Limit | None],
    tables: Collection[str],
    systems: Collection[str],
    entries: Entries,
    reckoners: Reckoners,
    report: Report,
) -> None:
    """Every reckoning named exists, and the rule set has what it takes."""
    for spec in facts.values():
        if spec is None or spec.reckoned is None:
            continue
        place = entries[spec.id].place("reckoned")
        reckoner = reckoners.get(spec.reckoned)
        if reckoner is None:
            report.add(
                "unknown-reckoning",
                f"there is no reckoning `{spec.reckoned}`",
                place,
                near(spec.reckoned, reckoners),
            )
            continue
        for what, wanted, there in (
            ("fact", (*reckoner.reads, *reckoner.panels), (*facts, TREATMENT)),
            ("limit", reckoner.limits, tuple(limits)),
            ("table", reckoner.tables, tuple(tables)),
        ):
            for name in wanted:
                if name not in there:
                    report.add(
                        f"reckoning-lacks-{what}",
                        f"the reckoning `{spec.reckoned}` needs the {what} `{name}`, "
                        "which the rule set does not have",
                        place,
                        near(name, there) or f"Add the {what} `{name}`.",
                    )
        _check_reads(spec, (*reckoner.reads, *reckoner.also), facts, place, report)
        if reckoner.systems:
            _check_systems(spec, reckoner.reads, facts, systems, place, report)


def _check_reads(
    spec: FactSpec,
    reads: Iterable[str],
    facts: Mapping[str, FactSpec | None],
    place: Place,
    report: Report,
) -> None:
    for name in reads:
        read = facts.get(name)
        if read is not None and not may_read(spec.about, read.about):
            report.add(
                "reads-panel-fact",
                f"`{spec.id}` is about the {spec.about}, but is reckoned from `{name}`, "
                "which each panel has for itself",
                place,
                f"Write `about: panel` for `{spec.id}`.",
            )


def _check_systems(
    spec: FactSpec,
    reads: Iterable[str],
    facts: Mapping[str, FactSpec | None],
    systems: Collection[str],
    place: Place,
    report: Report,
) -> None:
    for name in reads:
        chosen = facts.get(name)
        if chosen is None or chosen.kind is not FactKind.CHOICE:
            continue
        for choice in chosen.choice_ids:
            if choice not in chosen.not_yet and choice not in systems:
                report.add(
                    "reckoning-lacks-system",
                    f"the reckoning `{spec.reckoned}` needs a paint system for each choice of "
                    f"`{name}`, and there is none named `{choice}`",
                    place,
                    near(choice, systems) or f"Add the system `{choice}` to products.yaml.",
                )


# --- what goes round in a circle --------------------------------------------------------------


def check_beats_cycles(rules: Iterable[Rule], report: Report) -> None:
    """No rule beats a rule that, over others, beats it."""
    by_id = {rule.id: rule for rule in rules}
    graph: Graph = {
        ("rule", id): tuple(("rule", other) for other in rule.beats if other in by_id)
        for id, rule in by_id.items()
    }
    places: dict[Node, Place] = {("rule", rule.id): rule.place for rule in by_id.values()}
    for cycle in cycles(graph):
        around = [by_id[id] for _, id in _from_first(cycle, places)]
        hops = [
            f"`{rule.id}` ({rule.place}) beats `{after.id}`"
            for rule, after in zip(around, (*around[1:], around[0]), strict=True)
        ]
        report.add(
            "beats-cycle",
            f"these rules beat each other in a circle: {', '.join(hops)}",
            around[0].place,
            "Take out one `beats` of the circle.",
        )


def check_circles(
    facts: Iterable[FactSpec], rules: Iterable[Rule], reckoners: Reckoners, report: Report
) -> None:
    """Nothing waits for itself: every fact and rule can be worked out after what it reads."""
    by_fact = {spec.id: spec for spec in facts}
    by_rule = {rule.id: rule for rule in rules}
    places: dict[Node, Place] = {("fact", id): spec.place for id, spec in by_fact.items()}
    places |= {("rule", id): rule.place for id, rule in by_rule.items()}
    for cycle in cycles(dependencies(by_fact.values(), by_rule.values(), reckoners)):
        around = _from_first(cycle, places)
        hops = [
            _hop(node, after, by_fact, places)
            for node, after in zip(around, (*around[1:], around[0]), strict=True)
        ]
        report.add(
            "waits-for-itself",
            f"{_called(around[0])} can never be worked out, because it waits for itself: "
            f"{'; '.join(hops)}",
            places[around[0]],
            "Take one of these readings out, or split a rule so that what is read does not "
            "depend on it.",
        )


def _from_first(cycle: tuple[Node, ...], places: Mapping[Node, Place]) -> tuple[Node, ...]:
    """The cycle turned to start at the first rule of it, in file order; else the first fact."""
    start = min(
        range(len(cycle)),
        key=lambda index: (
            cycle[index][0] != "rule",
            cycle[index] not in places,
            places.get(cycle[index], Place("", 0, 0)),
        ),
    )
    return cycle[start:] + cycle[:start]


def _hop(
    node: Node, after: Node, facts: Mapping[str, FactSpec], places: Mapping[Node, Place]
) -> str:
    place = places.get(node)
    where = f"{_called(node)} ({place})" if place else _called(node)
    return f"{where} {_relation(node, after, facts)} {_called(after)}"


def _relation(node: Node, after: Node, facts: Mapping[str, FactSpec]) -> str:
    if node[0] == "rule":
        return "reads"
    if node == TREATMENT_NODE:
        return "is given by"
    if after[0] == "rule":
        return "is concluded by"
    spec = facts[node[1]]
    if spec.reckoned is not None:
        return "is reckoned from"
    if spec.gathered is not None:
        return "is gathered from"
    return "is asked or refused depending on"


def _called(node: Node) -> str:
    if node == TREATMENT_NODE:
        return f"`{TREATMENT}`"
    return f"the rule `{node[1]}`" if node[0] == "rule" else f"`{node[1]}`"
