"""What an editor can mark beyond names: keys of one entry that do not go together.

The loader says the same in words of its own; these conditions stand in the filled schemas alone,
so that its messages stay as they are.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping

from engine.quantity import Kind
from engine.quantity.units import CURRENCIES, KINDS, UNITS, Dimension
from engine.ruleset.filled_pieces import Schema, of, shared, written
from engine.ruleset.model import About, RuleSet
from engine.ruleset.names import TREATMENT

DAY = "^[0-9]{4}-[0-9]{2}-[0-9]{2}$"
_STRETCH = r"^\s*[0-9]{1,2}:[0-9]{2}\s*\.\.\s*[0-9]{1,2}:[0-9]{2}\s*$"
_NEVER = False
_WORKED_OUT = ("reckoned", "concluded", "gathered")
_ASKING = ("ask", "how", "ask-when", "assume", "alongside", "not-yet", "refuse-when", "plausible")


def _when(condition: Schema, then: Schema) -> Schema:
    return {"if": condition, "then": then}


def _is(key: str, *values: str) -> Schema:
    return {"properties": {key: {"enum": list(values)}}, "required": [key]}


def _has(*keys: str) -> Schema:
    return {"required": list(keys)}


def _without(keys: Iterable[str]) -> Schema:
    return {"properties": dict.fromkeys(keys, _NEVER)}


def _texts(ruleset: RuleSet, *, of_panel: bool = True) -> Schema:
    """Text whose placeholders all name a fact, a limit or the panel."""
    names = [
        *(("panel", TREATMENT) if of_panel else ()),
        *ruleset.limits,
        *(spec.id for spec in ruleset.facts.values() if of_panel or spec.about is not About.PANEL),
    ]
    return {"pattern": rf"^([^{{}}]|\{{\s*({'|'.join(map(_exactly, names))})\s*\}})*$"}


def _exactly(name: str) -> str:
    return re.sub(r"([.$])", r"\\\1", name)


def _in_rules(schema: Schema, ruleset: RuleSet) -> None:
    rule = schema["items"]
    treating = {each.id: each.because for each in ruleset.rules.values() if each.then.treatment}
    beaten = of(treating)
    rule["properties"]["rule"] = {**rule["properties"]["rule"], "not": {"const": "all"}}
    rule["properties"]["beats"] = {
        "description": rule["properties"]["beats"].get("description", ""),
        "anyOf": [
            {"const": "all", "description": "Every other rule."},
            beaten,
            {"type": "array", "uniqueItems": True, "minItems": 1, "items": beaten},
        ],
    }
    of_panel = [spec.id for spec in ruleset.facts.values() if spec.about is About.PANEL]
    works = [step.id for step in ruleset.steps.values() if step.about is About.PANEL]
    schema["$defs"]["condition-of-the-car"] = _of_the_car([*of_panel, TREATMENT])
    conclude = {"propertyNames": {"not": {"enum": of_panel}}}
    step = {"not": {"enum": works}, "items": {"not": {"enum": works}}} if works else {}
    rule["allOf"] = [
        *rule.get("allOf", ()),
        _when(
            _is("about", About.CAR),
            {
                "properties": {
                    "when": shared("condition-of-the-car"),
                    "because": _texts(ruleset, of_panel=False),
                    "then": {
                        "properties": {
                            "treatment": _NEVER,
                            "step": step,
                            **({"conclude": conclude} if of_panel else {}),
                        }
                    },
                }
            },
        ),
        _when(
            _is("when-open", "apply"),
            {"properties": {"then": _without(("treatment", "step", "conclude"))}},
        ),
        _when(_has("beats"), {"properties": {"then": _has("treatment")}}),
        {"properties": {"because": _texts(ruleset)}},
    ]


def _of_the_car(names: list[str]) -> Schema:
    again = shared("condition-of-the-car")
    each = {"type": "array", "items": again}
    return {
        "propertyNames": {"not": {"enum": names}},
        "properties": {"all": each, "any": each, "not": again},
    }


def _in_facts(schema: Schema, ruleset: RuleSet) -> None:
    fact = schema["additionalProperties"]
    named = schema.get("propertyNames", {})
    schema["propertyNames"] = {"allOf": [named, {"not": {"const": TREATMENT}}]}
    of_panel = [spec.id for spec in ruleset.facts.values() if spec.about is About.PANEL]
    schema["$defs"]["condition-of-the-car"] = _of_the_car([*of_panel, TREATMENT])
    fact["properties"]["plausible"] = {**fact["properties"]["plausible"], "pattern": r"\.\."}
    text = {"properties": {"ask": _texts(ruleset), "refuse-because": _texts(ruleset)}}
    text["properties"]["how"] = {"items": _texts(ruleset)}
    fact["allOf"] = [
        *fact.get("allOf", ()),
        text,
        _when(_is("kind", "list"), _without(("assume",))),
        _when(_is("kind", "yes-no"), {"properties": {"assume": {"enum": ["yes", "no"]}}}),
        _when(_has("choices"), {"properties": {"kind": {"enum": ["choice", "set"]}}}),
        _when(_has("alone"), {"properties": {"kind": {"const": "set"}}}),
        _when(_has("of"), {"properties": {"kind": {"const": "list"}}}),
        _when(_has("concluded"), {"properties": {"kind": {"enum": ["yes-no", "choice"]}}}),
        _when(
            _has("gathered"),
            {"properties": {"kind": {"const": "yes-no"}, "about": {"const": "car"}}},
        ),
        *(
            _when(
                _has(way), _without([*_ASKING, *(other for other in _WORKED_OUT if other != way)])
            )
            for way in _WORKED_OUT
        ),
        *(
            _when(
                _is("about", about),
                {
                    "properties": {
                        "ask-when": shared("condition-of-the-car"),
                        "refuse-when": shared("condition-of-the-car"),
                        "alongside": {"items": {"not": {"enum": of_panel}}},
                    }
                },
            )
            for about in (About.CAR, About.SHOP)
        ),
        *(_when(_is("kind", kind), {"properties": {"assume": written(kind)}}) for kind in Kind),
    ]


def _in_limits(schema: Schema, ruleset: RuleSet) -> None:
    limit = schema["$defs"].get("shop-limit", schema["additionalProperties"])
    limit["allOf"] = [
        *limit.get("allOf", ()),
        *(_when(_is("kind", kind), {"properties": {"value": written(kind)}}) for kind in Kind),
        {"anyOf": [_has("kind"), {"properties": {"value": _with_some_unit()}}]},
    ]
    if "properties" in schema:
        # A limit that is not supplied has to say that it is new; a supplied one keeps its kind.
        schema["additionalProperties"] = {"allOf": [shared("shop-limit"), _has("new")]}
        for name, said in schema["properties"].items():
            change = ruleset.limits[name].shop
            if change is None or change.supplied is not None:
                said.update(_without(("new", "kind")))


def _with_some_unit() -> Schema:
    return {
        "anyOf": [
            written(kind)
            for kind in Kind
            if KINDS[kind].dimension not in (Dimension.PLAIN, Dimension.MONEY)
        ]
    }


def _in_ruleset(schema: Schema, ruleset: RuleSet) -> None:
    shown = schema["properties"]["show"]["additionalProperties"]
    shown["properties"] = {kind: {"enum": _unit_names(kind)} for kind in Kind if _unit_names(kind)}
    if ruleset.shop is None:
        schema["properties"]["show-default"] = {
            **schema["properties"]["show-default"],
            "enum": list(ruleset.shown_units),
        }


def _in_shop(schema: Schema, ruleset: RuleSet) -> None:
    named = schema["properties"]
    built_on = ruleset.shop.builds_on if ruleset.shop else ruleset.name
    named["builds-on"] = {**named["builds-on"], "enum": [built_on]}
    named["show-default"] = {**named["show-default"], "enum": list(ruleset.shown_units)}


def _in_labour(schema: Schema, ruleset: RuleSet) -> None:
    named = schema["properties"]
    named["rate"] = {**named["rate"], **written(Kind.MONEY)}
    named["closed"] = {**named["closed"], "items": {"type": "string", "pattern": DAY}}
    day = schema["$defs"]["day"]
    day["items"] = {**day["items"], "pattern": _STRETCH}
    named["times"]["propertyNames"] = {"enum": list(ruleset.steps)}
    named["prices"]["propertyNames"] = {"enum": list(ruleset.products)}
    price = named["prices"]["additionalProperties"]["properties"]
    price["amount"] = {**price["amount"], **written(Kind.MONEY)}


def _unit_names(kind: Kind) -> list[str]:
    dimension = KINDS[kind].dimension
    if dimension is Dimension.MONEY:
        return sorted(CURRENCIES)
    return [unit.name for unit in UNITS if unit.dimension is dimension]


MARKS: Mapping[str, Callable[[Schema, RuleSet], None]] = {
    "rules": _in_rules,
    "facts": _in_facts,
    "limits": _in_limits,
    "ruleset": _in_ruleset,
    "shop": _in_shop,
    "labour": _in_labour,
}
"""What is marked in each kind of file; `rules` is for those of a shop as well."""
