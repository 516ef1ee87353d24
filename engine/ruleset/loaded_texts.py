"""The English texts of a rule set that is loaded already, to hold languages against."""

from __future__ import annotations

from collections.abc import Iterator

from engine.errors import Place
from engine.ruleset.entries import SUPPLIED
from engine.ruleset.model import FactSpec, Product, RuleSet
from engine.ruleset.texts import ANY, GROUPS, Field, Keys, Text

_FIELDS = {
    (group.what, field.keys[0], field.keys[-1]): field for group in GROUPS for field in group.fields
}
_GROUPS = {group.what: group for group in GROUPS}


def loaded_texts(ruleset: RuleSet) -> Iterator[Text]:
    """Every text that is due, and words where they may be added; the places are those of parts."""
    yield from _whole(ruleset)
    for fact in ruleset.facts.values():
        yield from _fact(fact)
    for limit in ruleset.limits.values():
        yield from _text("limit", limit.id, limit.place, limit.note, "note")
    for treatment in ruleset.treatments.values():
        place = treatment.place or Place("outcomes.yaml", 1, 1)
        yield from _text("treatment", treatment.id, place, treatment.title, "title")
        yield from _text("treatment", treatment.id, place, treatment.text, "text")
    for hold in ruleset.holds.values():
        yield from _text("hold", hold.id, hold.place, hold.title, "title")
        yield from _text("hold", hold.id, hold.place, hold.release, "release")
    for rule in ruleset.rules.values():
        yield from _text("rule", rule.id, rule.place, rule.because, "because")
        yield from _text("rule", rule.id, rule.place, rule.note, "note")
    for step in ruleset.steps.values():
        yield from _text("step", step.id, step.place, step.title, "title")
        yield from _text("step", step.id, step.place, step.text, "text")
        within = step.work.within
        if within is not None:
            yield from _text("step", step.id, step.place, within.otherwise, "within", "otherwise")
    for product in ruleset.products.values():
        yield from _product(product)
    for system in ruleset.systems.values():
        yield from _text("paint system", system.id, system.place, system.title, "title")
    for table in ruleset.tables.values():
        yield from _text("table", table.id, table.place, table.title, "title")
        yield from _text("table", table.id, table.place, table.note, "note")
    titled = (("caution", ruleset.cautions), ("gear", ruleset.gear))
    for what, parts in titled:
        for part in parts.values():
            yield from _text(what, part.id, part.place, part.title, "title")
            yield from _text(what, part.id, part.place, part.text, "text")


def _whole(ruleset: RuleSet) -> Iterator[Text]:
    below = f"{SUPPLIED}/" if ruleset.shop else ""
    head, cautions = Place(f"{below}ruleset.yaml", 1, 1), Place(f"{below}cautions.yaml", 1, 1)
    yield from _text("rule set", "rule set", head, ruleset.title, "title")
    yield from _text("cautions", "cautions", cautions, ruleset.standing_caution, "standing")
    words = Place(f"{below}vocabulary.yaml", 1, 1)
    for name, said in ruleset.vocabulary.columns.items():
        yield _made("vocabulary", "vocabulary", words, said, ("columns", name))


def _fact(fact: FactSpec) -> Iterator[Text]:
    place = fact.place
    yield from _text("fact", fact.id, place, fact.title, "title")
    yield from _text("fact", fact.id, place, fact.ask, "ask")
    if fact.how:
        yield _made("fact", fact.id, place, fact.how, ("how",))
    if fact.refusal is not None:
        yield from _text("fact", fact.id, place, fact.refusal.because, "refuse-because")
    for choice in fact.choices:
        yield from _text("fact", fact.id, place, choice.text, "choices", choice.id, "text")
        if choice.also:
            yield _made("fact", fact.id, place, choice.also, ("choices", choice.id, "also"))


def _product(product: Product) -> Iterator[Text]:
    handling, place = product.handling, product.place
    yield from _text("product", product.id, place, product.title, "title")
    for part in handling.parts:
        yield from _text("product", product.id, place, part, "parts", part)
    if handling.thinner is not None:
        yield from _text("product", product.id, place, handling.thinner.name, "thinner", "name")
    if handling.drying is not None:
        closed = ("drying", "recoat", "once-closed")
        yield from _text("product", product.id, place, handling.drying.once_closed, *closed)


def _text(what: str, id: str, place: Place, english: str | None, *keys: str) -> Iterator[Text]:
    if english is not None:
        yield _made(what, id, place, (english,), keys)


def _made(what: str, id: str, place: Place, english: tuple[str, ...], keys: Keys) -> Text:
    field = _field(what, keys)
    group = _GROUPS[what]
    above = (*group.target, id) if group.named else group.target
    own = not place.file.startswith(f"{SUPPLIED}/")
    file = place.file.removeprefix(f"{SUPPLIED}/")
    return Text(what, id, field, keys, file, (*above, *keys), english, place, own)


def _field(what: str, keys: Keys) -> Field:
    for last in (keys[-1], ANY):
        found = _FIELDS.get((what, keys[0], last))
        if found is not None:
            return found
    raise LookupError(f"no text of a {what} stands under {'.'.join(keys)}")
