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
from typing import Any

from engine.quantity.units import KINDS
from engine.ruleset.cases import ABSENT, OPEN
from engine.ruleset.depends import Reckoners
from engine.ruleset.entries import PARTS, SHOP_PARTS
from engine.ruleset.model import About, FactKind, FactSpec, RuleSet
from engine.ruleset.names import TREATMENT, comparable
from engine.ruleset.phrase import Phrases
from engine.supplied import schema_folder

Schema = dict[str, Any]

_COMMON = "common.schema.json"
_SCALAR = ["string", "number"]
_UNKNOWN = "unknown"


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
        self._condition = self._conditions()
        self.rules = _of({rule.id: rule.because for rule in ruleset.rules.values()})
        self.steps = _of({step.id: step.title for step in ruleset.steps.values()})
        self.holds = _of({hold.id: hold.release for hold in ruleset.holds.values()})
        self.cautions = _of({each.id: each.text for each in ruleset.cautions.values()})
        self.treatments = _of({each.id: each.text for each in ruleset.treatments.values()})
        self.products = _of({each.id: each.title for each in ruleset.products.values()})
        self.gear = _of({each.id: each.title for each in ruleset.gear.values()})

    def schema(self, name: str) -> Schema:
        """One schema, complete in itself."""
        schema: Schema = _local(_read(f"{name}.schema.json"))
        common = _local(_read(_COMMON))["$defs"]
        schema["$defs"] = {**common, **schema.get("$defs", {}), "condition": self._condition}
        fill = _FILLERS.get(name.removeprefix("shop-"))
        if fill is not None:
            fill(self, schema)
        return schema

    # --- conditions -------------------------------------------------------------------------------

    def _conditions(self) -> Schema:
        groups: Schema = copy.deepcopy(_local(_read(_COMMON))["$defs"]["condition"]["properties"])
        facts = {spec.id: self._test(spec) for spec in self._ruleset.facts.values()}
        ways = _of({each.id: each.text for each in self._ruleset.treatments.values()})
        treatment = {
            "description": "The settled treatment of the panel.",
            "anyOf": [ways, _listed(ways), _known()],
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
        said = {"description": _about(spec)}
        if spec.kind in (FactKind.CHOICE, FactKind.YES_NO):
            return {**said, "anyOf": [_choices(spec), _listed(_choices(spec)), _known()]}
        if spec.kind is FactKind.SET:
            return {**said, **_words({"includes": _one_or_many(_choices(spec))})}
        if spec.kind is FactKind.QUANTITY:
            operand = self._operand(spec)
            words = dict.fromkeys(("above", "at-least", "below", "at-most"), operand)
            between = {"type": "array", "minItems": 2, "maxItems": 2, "items": operand}
            return {
                **said,
                "anyOf": [operand, _listed(operand), _words({**words, "between": between})],
            }
        return {**said, **_known()}

    def _operand(self, spec: FactSpec) -> Schema:
        assert spec.quantity is not None
        limits = {
            f"${limit.id}": f"{self._phrases.limit(limit)}. {limit.note or ''}".strip()
            for limit in self._ruleset.limits.values()
            if comparable(limit.kind, spec.quantity)
        }
        written = {
            "description": f"{KINDS[spec.quantity].noun}, as in {KINDS[spec.quantity].example}",
            "type": _SCALAR,
            "anyOf": [{"type": "number"}, {"not": {"pattern": r"^\$[a-z]"}}],
        }
        return {"anyOf": [_of(limits), written]} if limits else written

    # --- each kind of file ------------------------------------------------------------------------

    def in_rules(self, schema: Schema) -> None:
        rule = schema["items"]["properties"]
        then = rule["then"]["properties"]
        for key, names in (
            ("hold", self.holds),
            ("caution", self.cautions),
            ("step", self.steps),
        ):
            _put(then, key, _one_or_many(names))
        _put(then, "treatment", self.treatments)
        then["conclude"] = {
            **then["conclude"],
            "properties": {
                spec.id: {**_choices(spec), "description": _about(spec)}
                for spec in self._ruleset.facts.values()
                if spec.otherwise is not None
            },
            "additionalProperties": False,
        }
        _put(rule, "beats", _one_or_many(_also(self.rules, {"all": "Every other rule."})))
        if "replaces" in rule:
            _put(rule, "replaces", self.rules)

    def in_facts(self, schema: Schema) -> None:
        fact = schema["additionalProperties"]["properties"]
        _put(fact, "reckoned", {"enum": list(self._reckoners)})
        told = {spec.id: _about(spec) for spec in self._ruleset.facts.values() if spec.told}
        _put(fact, "alongside", _listed(_of(told)))

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
            _put(case, about, sheet)
            _put(base, about, sheet)
        _put(case, "beside", {"type": "array", "items": self._sheet(About.PANEL)})
        for key in ("fires", "quiet", "open"):
            _put(case, key, _listed(self.rules))
        expect = case["expect"]["properties"]
        _put(expect, "treatment", _also(self.treatments, {OPEN: "It is not settled."}))
        for key, names in (
            ("holds", self.holds),
            ("cautions", self.cautions),
            ("steps", self.steps),
        ):
            _put(expect, key, _listed(names))
            _put(expect, f"no-{key}", _listed(names))
        _put(
            expect,
            "facts",
            {
                "type": "object",
                "properties": {
                    spec.id: {"description": _about(spec)} for spec in self._ruleset.facts.values()
                },
                "additionalProperties": False,
            },
        )

    def _sheet(self, about: About) -> Schema:
        return {
            "type": "object",
            "properties": {
                spec.id: _value(spec)
                for spec in self._ruleset.facts.values()
                if spec.told and spec.about is about
            },
            "additionalProperties": False,
        }

    def in_steps(self, schema: Schema) -> None:
        step = schema["properties"]["steps"]["additionalProperties"]["properties"]
        for key, shape, names in (
            ("needs", _listed, self.steps),
            ("before", _listed, self.steps),
            ("recoat-after", _one_or_many, self.steps),
            ("hold", _listed, self.holds),
            ("releases", _listed, self.holds),
            ("gear", _listed, self.gear),
        ):
            _put(step, key, shape(names))
        _put(step["products"]["items"]["properties"], "product", self.products)
        _put(step["waits-for"]["properties"], "product", _one_or_many(self.products))

    def in_products(self, schema: Schema) -> None:
        products = schema["properties"]["products"]["additionalProperties"]["properties"]
        _put(products, "gear", _listed(self.gear))
        _put(schema["$defs"]["coats"]["items"]["properties"], "product", self.products)

    def in_outcomes(self, schema: Schema) -> None:
        hold = schema["properties"]["hold"]["additionalProperties"]["properties"]
        _put(hold, "blocks", _listed(self.steps))

    def in_labour(self, schema: Schema) -> None:
        times = schema["properties"]["times"]
        times["properties"] = {
            step.id: {**times["additionalProperties"], "description": step.title}
            for step in self._ruleset.steps.values()
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


# --- pieces of schemas ----------------------------------------------------------------------------


def _local(part: Any) -> Any:
    """A schema whose references point into itself."""
    if isinstance(part, list):
        return [_local(item) for item in part]
    if not isinstance(part, dict):
        return part
    found = {key: _local(value) for key, value in part.items()}
    if isinstance(found.get("$ref"), str):
        found["$ref"] = found["$ref"].removeprefix(_COMMON)
    return found


def _put(properties: Schema, key: str, shape: Schema) -> None:
    """Give a property a shape of its own; what is said of it stays."""
    if key in properties:
        said = properties[key].get("description")
        properties[key] = {**({"description": said} if said else {}), **shape}


def _of(names: Mapping[str, str | None]) -> Schema:
    """One of these names, each with what it means."""
    if not names:
        return {"type": "string"}
    return {
        "anyOf": [
            {"const": name, **({"description": said} if said else {})}
            for name, said in names.items()
        ]
    }


def _also(names: Schema, more: Mapping[str, str]) -> Schema:
    if "anyOf" not in names:
        return names
    extra = [{"const": name, "description": said} for name, said in more.items()]
    return {"anyOf": [*names["anyOf"], *extra]}


def _listed(shape: Schema) -> Schema:
    return {"type": "array", "uniqueItems": True, "items": shape}


def _one_or_many(shape: Schema) -> Schema:
    return {"anyOf": [shape, {**_listed(shape), "minItems": 1}]}


def _words(words: Mapping[str, Schema]) -> Schema:
    known = {"description": "Whether the fact is known at all.", "enum": ["yes", "no"]}
    return {
        "type": "object",
        "minProperties": 1,
        "properties": {**words, "known": known},
        "additionalProperties": False,
    }


def _known() -> Schema:
    return _words({})


def _choices(spec: FactSpec) -> Schema:
    texts = {choice.id: choice.text for choice in spec.choices}
    return _of({choice: texts.get(choice) for choice in spec.choice_ids})


def _about(spec: FactSpec) -> str:
    asked = f" {spec.ask}" if spec.ask else ""
    return f"{spec.title}.{asked}"


def _value(spec: FactSpec) -> Schema:
    """How a told fact is written in a case, with `unknown` and `absent` beside its values."""
    beside = {_UNKNOWN: "It is not known.", ABSENT: "Takes the value of the base away."}
    told = {"type": "object", "required": ["value"]}
    said = {"description": _about(spec)}
    if spec.kind in (FactKind.CHOICE, FactKind.YES_NO):
        return {**said, "anyOf": [_also(_choices(spec), beside), told]}
    if spec.kind is FactKind.SET:
        return {**said, "anyOf": [_one_or_many(_also(_choices(spec), beside)), told]}
    if spec.kind is FactKind.LIST:
        return {**said, "type": ["array", "string", "number", "object"]}
    return {**said, "type": [*_SCALAR, "object"]}
