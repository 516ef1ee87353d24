"""JSON Schemas with one rule set's own names filled in, for editors to complete and explain.

An editor that follows such a schema offers the facts, choices, limits, rules, steps and outcomes
there are, shows what each means, and marks a name that is not there. Names that were added since
are marked too, until the schemas are written again.
"""

from __future__ import annotations

import copy
import json
from collections.abc import Callable, Mapping
from pathlib import Path

from engine.quantity import Kind
from engine.ruleset.cases import OPEN
from engine.ruleset.coats import COAT_FACTS
from engine.ruleset.depends import Reckoners
from engine.ruleset.entries import PARTS, SHOP_PARTS
from engine.ruleset.filled_marks import DAY, MARKS
from engine.ruleset.filled_pieces import (
    Schema,
    about_fact,
    also,
    choices,
    known,
    listed,
    local,
    of,
    one_or_many,
    only_used,
    put,
    shared,
    value,
    with_words,
    written,
)
from engine.ruleset.model import About, FactKind, FactSpec, RuleSet
from engine.ruleset.names import TREATMENT, comparable
from engine.ruleset.phrase import Phrases
from engine.supplied import schema_folder

_COMMON = "common.schema.json"


def write_schemas(ruleset: RuleSet, folder: Path) -> list[Path]:
    """Write the filled schemas of every kind of file into `folder`, which is made if need be."""
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for name, schema in filled_schemas(ruleset).items():
        file = folder / f"{name}.schema.json"
        file.write_text(json.dumps(schema, indent=1, ensure_ascii=False) + "\n", "utf-8")
        written.append(file)
    return written


def filled_schemas(ruleset: RuleSet, reckoners: Reckoners | None = None) -> dict[str, Schema]:
    """The schema of every kind of file, for a whole rule set and for a shop's changes."""
    if reckoners is None:
        from engine.reckoning.reckoners import RECKONERS

        reckoners = RECKONERS
    filler = _Filler(ruleset, reckoners)
    names = dict.fromkeys(part.schema for part in (*PARTS, *SHOP_PARTS))
    return {name: filler.schema(name) for name in names if name != "shop-replaced"}


def _read(name: str) -> Schema:
    found: Schema = json.loads((schema_folder() / name).read_text("utf-8"))
    return found


class _Filler:
    def __init__(self, ruleset: RuleSet, reckoners: Reckoners) -> None:
        self._ruleset = ruleset
        self._phrases = Phrases(ruleset)
        self._reckoners = reckoners
        names = {
            name: of(said)
            for name, said in (
                ("rules", {rule.id: rule.because for rule in ruleset.rules.values()}),
                ("steps", {step.id: step.title for step in ruleset.steps.values()}),
                ("holds", {hold.id: hold.release for hold in ruleset.holds.values()}),
                ("cautions", {each.id: each.text for each in ruleset.cautions.values()}),
                ("treatments", {each.id: each.text for each in ruleset.treatments.values()}),
                ("products", {each.id: each.title for each in ruleset.products.values()}),
                ("gear", {each.id: each.title for each in ruleset.gear.values()}),
            )
        }
        self.rules = shared("name-of-rules")
        self.steps = shared("name-of-steps")
        self.holds = shared("name-of-holds")
        self.cautions = shared("name-of-cautions")
        self.treatments = shared("name-of-treatments")
        self.products = shared("name-of-products")
        self.gear = shared("name-of-gear")
        self._defs = {
            **{f"name-of-{name}": each for name, each in names.items()},
            **{f"operand-{kind}": self._operand(kind) for kind in Kind},
            "condition": self._conditions(),
        }

    def schema(self, name: str) -> Schema:
        """One schema, complete in itself."""
        schema: Schema = local(_read(f"{name}.schema.json"))
        common = local(_read(_COMMON))["$defs"]
        schema["$defs"] = {**common, **schema.get("$defs", {}), **self._defs}
        schema["$defs"]["change-on"] = {**common["change-on"], "pattern": DAY}
        fill = _FILLERS.get(name.removeprefix("shop-"))
        if fill is not None:
            fill(self, schema)
        mark = MARKS.get(name.removeprefix("shop-"))
        if mark is not None:
            mark(schema, self._ruleset)
        return only_used(copy.deepcopy(schema))

    # --- conditions -------------------------------------------------------------------------------

    def _conditions(self) -> Schema:
        groups: Schema = copy.deepcopy(local(_read(_COMMON))["$defs"]["condition"]["properties"])
        facts = {spec.id: self._test(spec) for spec in self._ruleset.facts.values()}
        ways = self.treatments
        treatment = {
            "description": "The settled treatment of the panel.",
            "anyOf": [ways, listed(ways), known()],
        }
        return {
            "title": "a condition",
            "description": "All of it must hold: facts with a test each, `all`, `any` and `not`.",
            "type": "object",
            "minProperties": 1,
            "properties": {**groups, **facts, TREATMENT: treatment},
            "additionalProperties": False,
        }

    def _test(self, spec: FactSpec) -> Schema:
        said = {"description": about_fact(spec)}
        if spec.kind in (FactKind.CHOICE, FactKind.YES_NO):
            return {**said, "anyOf": [choices(spec), listed(choices(spec)), known()]}
        if spec.kind is FactKind.SET:
            return {**said, **with_words({"includes": one_or_many(choices(spec))})}
        if spec.kind is FactKind.QUANTITY:
            operand = shared(f"operand-{spec.quantity}")
            words = dict.fromkeys(("above", "at-least", "below", "at-most"), operand)
            both = "From the first to the second, both ends included."
            between = {
                "description": both,
                "type": "array",
                "minItems": 2,
                "maxItems": 2,
                "items": operand,
            }
            return {
                **said,
                "anyOf": [operand, listed(operand), with_words({**words, "between": between})],
            }
        return {**said, **known()}

    def _operand(self, kind: Kind) -> Schema:
        limits = {
            f"${limit.id}": f"{self._phrases.limit(limit)}. {limit.note or ''}".strip()
            for limit in self._ruleset.limits.values()
            if comparable(limit.kind, kind)
        }
        return {"anyOf": [of(limits), written(kind)]} if limits else written(kind)

    # --- each kind of file ------------------------------------------------------------------------

    def in_rules(self, schema: Schema) -> None:
        rule = schema["items"]["properties"]
        then = rule["then"]["properties"]
        for key, names in (
            ("hold", self.holds),
            ("caution", self.cautions),
            ("step", self.steps),
        ):
            put(then, key, one_or_many(names))
        put(then, "treatment", self.treatments)
        then["conclude"] = {
            **then["conclude"],
            "properties": {
                spec.id: {**choices(spec), "description": about_fact(spec)}
                for spec in self._ruleset.facts.values()
                if spec.otherwise is not None
            },
            "additionalProperties": False,
        }
        put(rule, "beats", one_or_many(also(self.rules, {"all": "Every other rule."})))
        if "replaces" in rule:
            put(rule, "replaces", self.rules)

    def in_facts(self, schema: Schema) -> None:
        fact = schema["additionalProperties"]["properties"]
        put(fact, "reckoned", {"enum": list(self._reckoners)})
        told = {spec.id: about_fact(spec) for spec in self._ruleset.facts.values() if spec.told}
        put(fact, "alongside", listed(of(told)))

    def in_limits(self, schema: Schema) -> None:
        if "new" not in schema["additionalProperties"]["properties"]:
            return
        schema["$defs"]["shop-limit"] = schema["additionalProperties"]
        schema["additionalProperties"] = {"$ref": "#/$defs/shop-limit"}
        schema["properties"] = {
            limit.id: {
                "$ref": "#/$defs/shop-limit",
                "description": f"{self._phrases.limit(limit)}. {limit.note or ''}".strip(),
            }
            for limit in self._ruleset.limits.values()
        }

    def in_retired(self, schema: Schema) -> None:
        retired = {"$ref": "#/$defs/retired"}
        replaced = self._ruleset.shop.changes if self._ruleset.shop else ()
        gone = [change.id for change in replaced if change.retired]
        for key, names in (
            ("rules", {rule.id: rule.because for rule in self._ruleset.rules.values()}),
            ("cases", {case.id: None for case in self._ruleset.cases}),
        ):
            part = schema["properties"][key]
            part["properties"] = {
                name: {**retired, **({"description": said} if said else {})}
                for name, said in {**names, **dict.fromkeys(gone)}.items()
            }
            part["additionalProperties"] = False

    def in_cases(self, schema: Schema) -> None:
        case = schema["properties"]["cases"]["items"]["properties"]
        base = schema["properties"]["bases"]["additionalProperties"]["properties"]
        for about in About:
            sheet = self._sheet(about)
            put(case, about, sheet)
            put(base, about, sheet)
        put(case, "beside", {"type": "array", "items": self._sheet(About.PANEL)})
        for key in ("fires", "quiet", "open"):
            put(case, key, listed(self.rules))
        expect = case["expect"]["properties"]
        put(expect, "treatment", also(self.treatments, {OPEN: "It is not settled."}))
        for key, names in (
            ("holds", self.holds),
            ("cautions", self.cautions),
            ("steps", self.steps),
        ):
            put(expect, key, listed(names))
            put(expect, f"no-{key}", listed(names))
        put(
            expect,
            "facts",
            {
                "type": "object",
                "properties": {
                    spec.id: {"description": about_fact(spec)}
                    for spec in self._ruleset.facts.values()
                },
                "additionalProperties": False,
            },
        )

    def _sheet(self, about: About) -> Schema:
        return {
            "type": "object",
            "properties": {
                spec.id: value(spec)
                for spec in self._ruleset.facts.values()
                if spec.told and spec.about is about
            },
            "additionalProperties": False,
        }

    def in_steps(self, schema: Schema) -> None:
        step = schema["properties"]["steps"]["additionalProperties"]["properties"]
        for key, shape, names in (
            ("needs", listed, self.steps),
            ("before", listed, self.steps),
            ("recoat-after", one_or_many, self.steps),
            ("hold", listed, self.holds),
            ("releases", listed, self.holds),
            ("gear", listed, self.gear),
        ):
            put(step, key, shape(names))
        put(step["products"]["items"]["properties"], "product", self.products)
        put(step["waits-for"]["properties"], "product", one_or_many(self.products))

    def in_products(self, schema: Schema) -> None:
        products = schema["properties"]["products"]["additionalProperties"]["properties"]
        put(products, "gear", listed(self.gear))
        put(schema["$defs"]["coats"]["items"]["properties"], "product", self.products)
        facts = (self._ruleset.facts.get(fact) for fact in COAT_FACTS)
        schema["$defs"]["panels"] |= {
            "properties": {
                spec.id: {
                    **schema["$defs"]["panels"]["additionalProperties"],
                    "description": spec.title,
                    "items": choices(spec),
                }
                for spec in facts
                if spec is not None
            },
            "additionalProperties": False,
        }

    def in_outcomes(self, schema: Schema) -> None:
        hold = schema["properties"]["hold"]["additionalProperties"]["properties"]
        put(hold, "blocks", listed(self.steps))

    def in_labour(self, schema: Schema) -> None:
        times = schema["properties"]["times"]
        times["properties"] = {
            step.id: {**times["additionalProperties"], "description": step.title}
            for step in self._ruleset.steps.values()
        }
        prices = schema["properties"]["prices"]
        prices["properties"] = {
            product.id: {**prices["additionalProperties"], "description": product.title}
            for product in self._ruleset.products.values()
        }


_FILLERS: Mapping[str, Callable[[_Filler, Schema], None]] = {
    "rules": _Filler.in_rules,
    "facts": _Filler.in_facts,
    "limits": _Filler.in_limits,
    "retired": _Filler.in_retired,
    "cases": _Filler.in_cases,
    "steps": _Filler.in_steps,
    "products": _Filler.in_products,
    "outcomes": _Filler.in_outcomes,
    "labour": _Filler.in_labour,
}
