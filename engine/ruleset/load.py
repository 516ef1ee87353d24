"""Loads a rule set: reads its files, builds every part, links them, or says all that is wrong."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TypeVar

from engine.errors import Place, Problem, RuleSetError
from engine.quantity import Dimension, Kind
from engine.quantity.units import KINDS, find_currency, find_unit
from engine.ruleset import link, link_work
from engine.ruleset.build_facts import add_conditions, build_facts
from engine.ruleset.build_labour import build_gear, build_labour
from engine.ruleset.build_limits import build_limits
from engine.ruleset.build_materials import build_system, build_table
from engine.ruleset.build_outcomes import (
    build_caution,
    build_hold,
    build_treatments,
)
from engine.ruleset.build_products import build_product
from engine.ruleset.build_rules import Outcomes, build_rules
from engine.ruleset.build_vocabulary import build_vocabulary
from engine.ruleset.build_work import Around, build_step
from engine.ruleset.cases import Known, build_cases
from engine.ruleset.depends import Reckoners
from engine.ruleset.digest import digest_of
from engine.ruleset.entries import Entry, read_files
from engine.ruleset.layers import Layers, OneFolder
from engine.ruleset.model import About, RuleSet
from engine.ruleset.names import TREATMENT, Names, treatment_fact
from engine.ruleset.overlay import read_overlay
from engine.ruleset.report import Report, listed, near
from engine.ruleset.shop_files import is_shop_folder
from engine.ruleset.shop_model import Reviewed

Built = TypeVar("Built")


def load_ruleset(
    folder: Path, *, with_cases: bool = True, reckoners: Reckoners | None = None
) -> RuleSet:
    """Load the rule set in `folder`, or a shop's changes there with the supplied set below them.

    Places in it are relative to the folder; those in the supplied set below a shop's changes
    start with `supplied/`. Without `with_cases` the worked cases are left unread (the digest
    covers them all the same). `reckoners` are the reckonings that facts may name; the engine's
    own by default.

    Raises RuleSetError with every problem of every file, in file order; past the first hundred
    they are only counted.
    """
    if not folder.is_dir():
        what = "is not a folder" if folder.exists() else "does not exist"
        raise RuleSetError(
            Problem(
                "no-rule-set",
                f"the rule set {what}",
                Place(str(folder), 1, 1),
                "Name the folder that holds `ruleset.yaml` or `shop.yaml`.",
            )
        )
    report = Report()
    layers = _layers(folder, report, with_cases=with_cases)
    own = _own_reckoners() if reckoners is None else reckoners
    ruleset = _Loader(layers, own, report).ruleset()
    report.refuse()
    assert ruleset is not None
    return ruleset


def _layers(folder: Path, report: Report, *, with_cases: bool) -> Layers:
    if is_shop_folder(folder):
        overlay = read_overlay(folder, report, with_cases=with_cases)
        if overlay is None:
            report.refuse()
        assert overlay is not None
        return overlay
    files = read_files(folder, report, with_cases=with_cases)
    if not files.complete:
        report.refuse()
    return OneFolder(files, report)


def _own_reckoners() -> Reckoners:
    # The reckoners know the rule set's model, so they can only be met after it.
    from engine.reckoning.reckoners import RECKONERS

    return RECKONERS


class _Loader:
    """Builds the parts of one rule set in the order in which they need each other."""

    def __init__(self, layers: Layers, reckoners: Reckoners, report: Report) -> None:
        self._layers = layers
        self._reckoners = reckoners
        self._report = report

    def ruleset(self) -> RuleSet | None:
        layers, report = self._layers, self._report
        limit_entries = layers.collect("limits", what="limit")
        fact_entries = layers.collect("facts", what="fact")
        rule_entries = layers.collect_list("rules", named_by="rule", what="rule")
        hold_entries = layers.collect("outcomes", "hold", what="hold")
        caution_entries = layers.collect("cautions", "cautions", what="caution")
        step_entries = layers.collect("steps", "steps", what="step")
        product_entries = layers.collect("products", "products", what="product")
        system_entries = layers.collect("products", "systems", what="paint system")
        gear_entries = layers.collect("gear", "gear", what="gear")
        table_entries = layers.collect("tables", "tables", what="table")
        link.check_shared_ids(fact_entries, limit_entries, report)

        treatment_entries = layers.collect("outcomes", TREATMENT, "order", what="treatment")
        treatments = build_treatments(treatment_entries)
        limits = build_limits(limit_entries, report)
        bare_facts = build_facts(fact_entries, report)
        treatment = treatment_fact(treatments.values(), Place("outcomes.yaml", 1, 1))
        names = Names({**bare_facts, TREATMENT: treatment}, limits)

        facts = add_conditions(fact_entries, names, report)
        holds = {id: build_hold(entry, names, report) for id, entry in hold_entries.items()}
        cautions = {
            id: build_caution(entry, names, report) for id, entry in caution_entries.items()
        }
        gear = {id: build_gear(entry, names, report) for id, entry in gear_entries.items()}
        around = Around(
            step_entries, hold_entries, product_entries, gear_entries, treatment_entries
        )
        steps = {id: build_step(entry, around, names, report) for id, entry in step_entries.items()}
        products = {
            id: build_product(entry, gear_entries, names, report)
            for id, entry in product_entries.items()
        }
        shop = layers.only("labour")
        labour = build_labour(shop, step_entries, product_entries, facts, report) if shop else None
        known_facts = {id: spec for id, spec in facts.items() if spec is not None}
        systems = {
            id: build_system(entry, products, known_facts, report)
            for id, entry in system_entries.items()
        }
        tables = {id: build_table(entry, report) for id, entry in table_entries.items()}
        step_abouts = {
            id: About(about) if (about := entry.get("about")) else None
            for id, entry in step_entries.items()
        }
        outcomes = Outcomes(treatments, holds, cautions, step_abouts)
        rules = build_rules(rule_entries, names, outcomes, report)

        link_work.check_order(_sound(steps), report)
        link_work.check_blocks(hold_entries, step_entries, report)
        link.check_alongside(facts, fact_entries, report)
        link.check_concluded(facts, {**layers.set_aside, **rule_entries}, report)
        link.check_reckoned(facts, limits, tables, systems, fact_entries, self._reckoners, report)
        sound_facts, sound_rules = _sound(facts), _sound(rules)
        link.check_beats_cycles(sound_rules.values(), report)
        link.check_circles(sound_facts.values(), sound_rules.values(), self._reckoners, report)

        known = Known(facts, rules, treatments, holds, cautions, steps)
        cases = build_cases(
            layers.collect_list("cases", "cases", named_by="case", what="case"),
            layers.collect("cases", "bases", what="base"),
            known,
            report,
        )
        about_set = layers.only("ruleset")
        shown = self._shown_units(about_set) if about_set else {}
        layers.check_regions(shown)
        standing = layers.only("cautions")
        if len(report) or about_set is None or standing is None:
            return None
        ruleset = RuleSet(
            name=about_set.get("name"),
            version=about_set.text("version") or "",
            title=about_set.get("title"),
            digest=digest_of(layers.content),
            facts=sound_facts,
            limits=_sound(limits),
            rules=sound_rules,
            treatments=treatments,
            holds=_sound(holds),
            cautions=_sound(cautions),
            standing_caution=standing.get("standing"),
            steps=_sound(steps),
            products=_sound(products),
            systems=_sound(systems),
            tables=_sound(tables),
            shown_units=shown,
            shown_by_default=about_set.get("show-default"),
            cases=cases,
            gear=_sound(gear),
            labour=labour,
            reviewed=tuple(_reviewed(layers)),
            vocabulary=build_vocabulary(layers.every("vocabulary")),
        )
        return layers.finish(ruleset)

    def _shown_units(self, entry: Entry) -> dict[str, dict[Kind, str]]:
        shown: dict[str, dict[Kind, str]] = {}
        for region, units in (entry.get("show") or {}).items():
            shown[region] = {}
            for kind in units if entry.get("show", region) is not None else ():
                unit = entry.get("show", region, kind)
                if unit is not None and kind in iter(Kind):
                    self._check_unit(unit, Kind(kind), entry.place("show", region, kind))
                    shown[region][Kind(kind)] = unit
        default = entry.get("show-default")
        if default is not None and shown and default not in shown:
            self._report.add(
                "unknown-region",
                f"there is no region `{default}` under `show`",
                entry.place("show-default"),
                near(default, shown),
            )
        return shown

    def _check_unit(self, unit: str, kind: Kind, place: Place) -> None:
        dimension = KINDS[kind].dimension
        found = find_unit(unit, dimension)
        if find_currency(unit) if dimension is Dimension.MONEY else found and found.name == unit:
            return
        self._report.add(
            "unknown-unit",
            f"`{unit}` is not the name of a unit for {KINDS[kind].noun}",
            place,
            f"Write {listed([found.name] if found else KINDS[kind].offer, 'or')}.",
        )


def _reviewed(layers: Layers) -> Iterator[Reviewed]:
    for entry in layers.every("reviewed"):
        for index, item in enumerate(entry.document.data or ()):
            yield Reviewed(item["finding"], tuple(item["names"]), item["why"], entry.place(index))


def _sound(found: Mapping[str, Built | None]) -> dict[str, Built]:
    return {id: built for id, built in found.items() if built is not None}
