"""The page of facts: what can be known, how it is asked, and who reads it."""

from __future__ import annotations

from collections.abc import Iterator

from cli.reference.markdown import Page, anchor, code, codes, counted, link, plain
from engine.quantity import show
from engine.quantity.units import KINDS
from engine.reckoning.reckoners import RECKONERS
from engine.ruleset import relations
from engine.ruleset.model import About, FactKind, FactSpec, RuleSet
from engine.ruleset.phrase import Phrases

FILE = "facts.md"
_GROUPS = {
    About.SHOP: "Facts of the shop",
    About.CAR: "Facts of the car",
    About.PANEL: "Facts of a panel",
}
_EFFORT = {
    "look": "by looking",
    "gauge": "with a gauge",
    "test": "by a test",
    "destructive": "by a test that leaves a mark",
}


def page(ruleset: RuleSet) -> Page:
    told = Page(
        FILE, "Facts", "what can be known, how it is asked or worked out, and which rules read it"
    )
    specs = list(ruleset.facts.values())
    told.paragraph(
        f"{counted(len(specs), 'fact')}. Job files and rules name them by their id. A fact that "
        "people tell is asked where a rule that is still open reads it, least effort first; the "
        f"others are {link('reckoned', 'Reckonings', 'reckonings.md')}, concluded by rules, or "
        "gathered from the panels."
    )
    told.items(link(title, title) for title in _GROUPS.values())
    for about, title in _GROUPS.items():
        chosen = [spec for spec in specs if spec.about is about]
        told.heading(title)
        told.paragraph(f"{counted(len(chosen), 'fact')}: " + ", ".join(map(fact_link, chosen)))
        for spec in chosen:
            told.heading(spec.id, 3)
            told.paragraph(f"{plain(spec.title)}: {kind_of(spec)}, {_way(spec)}.")
            told.items(_said(ruleset, spec))
    return told


def fact_link(spec: FactSpec) -> str:
    return f"[{code(spec.id)}](#{anchor(spec.id)})"


def facts_linked(names: tuple[str, ...] | list[str], file: str = "") -> str:
    """Names of facts, each linked to where it is explained."""
    return ", ".join(
        code(name) if name == "treatment" else f"[{code(name)}]({file}#{anchor(name)})"
        for name in names
    )


def kind_of(spec: FactSpec) -> str:
    """The kind of a fact as its file writes it, with the unit it is kept in."""
    if spec.kind is FactKind.QUANTITY and spec.quantity is not None:
        unit = KINDS[spec.quantity].canonical
        return f"`{spec.quantity}`" + (f" (kept in {unit})" if unit else "")
    if spec.kind is FactKind.LIST and spec.quantity is not None:
        return f"`list` of `{spec.quantity}`"
    return f"`{spec.kind}`"


def _way(spec: FactSpec) -> str:
    if spec.reckoned is not None:
        return "reckoned"
    if spec.gathered is not None:
        return "gathered from the panels"
    if spec.otherwise is not None:
        return "concluded by rules"
    return f"told by people, {_EFFORT[spec.effort]}"


def _said(ruleset: RuleSet, spec: FactSpec) -> Iterator[str | tuple[int, str]]:
    phrases = Phrases(ruleset)
    yield from _asked(spec)
    yield from ((1, f"{code(each.id)}: {_choice(each.text, each.also)}") for each in spec.choices)
    if spec.not_yet:
        not_yet = [choice for choice in spec.choice_ids if choice in spec.not_yet]
        yield f"Not known yet while it is {codes(not_yet)}"
    if spec.alone is not None:
        yield f"{code(spec.alone)} cannot stand with others"
    if spec.plausible is not None and spec.quantity is not None:
        low, high = (
            show(end, spec.quantity, phrases.unit(spec.quantity)) for end in spec.plausible
        )
        yield f"Plausible from {low} to {high}"
    if spec.ask_when is not None:
        yield f"Applies where {plain(phrases.clause(spec.ask_when))}"
    if spec.refusal is not None:
        yield f"Set aside where {plain(phrases.clause(spec.refusal.when))}: " + plain(
            phrases.template(spec.refusal.because)
        )
    if spec.gathered is not None:
        yield (
            f"Yes where {spec.gathered.quantifier} panel meets: "
            + plain(phrases.clause(spec.gathered.condition))
        )
    if spec.reckoned is not None:
        reckoner = RECKONERS[spec.reckoned]
        reads = [name for name in reckoner.takes if name in ruleset.facts]
        yield (
            f"Reckoned by {link(code(spec.reckoned), spec.reckoned, 'reckonings.md')}"
            + (f" from {facts_linked(list(dict.fromkeys(reads)))}" if reads else "")
        )
    if spec.otherwise is not None:
        by = relations.rules_concluding(ruleset, spec.id)
        yield f"Concluded by {codes(by)}; otherwise {code(spec.otherwise)}"
    read = relations.rules_reading(ruleset, spec.id)
    if read:
        yield f"Read by {counted(len(read), 'rule')}: {codes(read)}"
    resting = relations.facts_resting_on(ruleset, spec.id, RECKONERS)
    if resting:
        yield f"Read by facts: {facts_linked(resting)}"


def _asked(spec: FactSpec) -> Iterator[str | tuple[int, str]]:
    if spec.ask:
        yield f"Asked: {plain(spec.ask)}"
    if spec.how:
        yield f"How: {plain(' '.join(spec.how))}"
    if spec.words:
        yield f"Also called: {plain(', '.join(spec.words))}"
    if spec.hazard:
        yield "Asked before anything else, because not knowing it can hurt someone"
    if spec.assume is not None:
        yield f"Assumed: {code(spec.assume)}, where nothing is told"
    if not spec.asked and spec.told:
        yield "Taken when told, never asked for"
    if spec.alongside:
        yield f"Asked in the same breath as {facts_linked(spec.alongside)}"
    if spec.choices:
        yield "Choices:"


def _choice(text: str, also: tuple[str, ...]) -> str:
    return plain(text) + (f" (also: {plain(', '.join(also))})" if also else "")
