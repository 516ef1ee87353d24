"""Facts, limits and rule texts put into words, in the units the region works with."""

from __future__ import annotations

import re
from fractions import Fraction

from engine.facts import Spots
from engine.quantity import Kind, parse_quantity, show, show_against
from engine.reasoning.evaluate import Evaluation, Known, Subject
from engine.reasoning.kleene import NOT_APPLICABLE, OPEN, UNSURE
from engine.reckoning.reckoners.written import Amounts, PutIn
from engine.records import dataclass
from engine.ruleset.depends import leaves
from engine.ruleset.model import Condition, FactKind, FactSpec, Leaf, Rule, RuleSet, Test
from engine.ruleset.names import TREATMENT
from engine.ruleset.shop_model import ShopChange
from engine.words import MARK, say, sentence, separator, within

_PLACEHOLDER = re.compile(r"\{([a-z][a-z0-9.-]*)\}")
_REGION = "shop.region"


@dataclass(frozen=True, slots=True)
class Wording:
    """Puts one evaluation into words."""

    evaluation: Evaluation

    @property
    def ruleset(self) -> RuleSet:
        return self.evaluation.program.ruleset

    def unit(self, kind: Kind | None) -> str | None:
        """The unit quantities of this kind are shown in."""
        slot = self.evaluation.program.slots.get(_REGION)
        region = self.evaluation.car.vector[slot] if slot is not None else None
        shown = self.ruleset.shown_units.get(region) if isinstance(region, str) else None
        if shown is None:
            shown = self.ruleset.shown_units.get(self.ruleset.shown_by_default, {})
        return shown.get(kind) if kind is not None else None

    def value(self, spec: FactSpec, value: Known) -> str:
        """A known value as a person would read it."""
        if type(value) is str:
            return self.choice(spec, value)
        if isinstance(value, Fraction):
            if spec.quantity is None:
                return str(value)
            return show(value, spec.quantity, self.unit(spec.quantity))
        if isinstance(value, frozenset):
            chosen = [choice for choice in spec.choice_ids if choice in value]
            return ", ".join(self.choice(spec, choice) for choice in chosen) or say("none")
        if isinstance(value, tuple):
            return self._spots(spec, value)
        return self.choice(spec, value)

    def choice(self, spec: FactSpec, value: str) -> str:
        """A choice as it stands within a sentence: by its id, in another language by its text."""
        if self.ruleset.tongue is None or spec.kind is FactKind.TEXT:
            return value
        if spec.kind is FactKind.YES_NO:
            return say("yes") if value == "yes" else say("no")
        text = next((each.text for each in spec.choices if each.id == value), value)
        if text.startswith(MARK):
            return value
        return within(text)

    def _spots(self, spec: FactSpec, spots: Spots) -> str:
        kind = spec.quantity or Kind.THICKNESS
        unit = self.unit(kind)
        return separator().join(
            "/".join(show(reading, kind, unit).rsplit(" ", 1)[0] for reading in spot)
            for spot in spots
        ) + (f" {unit}" if unit else "")

    def put_in(self, pieces: PutIn) -> str:
        """A reckoning written out, its amounts in the units of the region."""
        return " ".join(
            say(piece) if isinstance(piece, str) else self._amounts(piece) for piece in pieces
        )

    def _amounts(self, amounts: Amounts) -> str:
        unit = self.unit(amounts.kind)
        shown = [show(Fraction(value), amounts.kind, unit) for value in amounts.values]
        units = {text.partition(" ")[2] for text in shown}
        if len(units) == 1:
            # One unit for all of them stands once, at the end.
            shown[:-1] = [text.partition(" ")[0] for text in shown[:-1]]
        if not amounts.signs:
            return separator().join(shown)
        return shown[0] + "".join(
            f" {sign} {text}" for sign, text in zip(amounts.signs, shown[1:], strict=True)
        )

    def state(self, subject: Subject, fact: str) -> str:
        """The state of a fact in words, also where it is not known."""
        program = self.evaluation.program
        state = subject.vector[program.slots[fact]]
        if state is OPEN or state is UNSURE:
            return say("not known")
        if state is NOT_APPLICABLE:
            return say("not applicable")
        if fact == TREATMENT:
            return self.treatment(str(state))
        return self.value(program.facts[fact].spec, self._known(subject, fact))

    def treatment(self, id: str) -> str:
        """A treatment as it stands within a sentence: by its id, in another language by title."""
        if self.ruleset.tongue is None or id not in self.ruleset.treatments:
            return id
        title = self.ruleset.treatments[id].title
        return id if title.startswith(MARK) else within(title)

    def topic(self, what: str) -> str:
        """A `hold air`, `caution lead` or `step mask-up` by its title."""
        kind, _, id = what.partition(" ")
        if kind == "hold":
            return say("hold: {title}", title=self.ruleset.holds[id].title)
        if kind == "caution":
            return say("caution: {title}", title=self.ruleset.cautions[id].title)
        if kind == "step":
            return say("step: {title}", title=self.ruleset.steps[id].title)
        return what

    def _known(self, subject: Subject, fact: str) -> Known:
        slot = self.evaluation.program.slots[fact]
        known = subject.exact.get(slot)
        if known is None:
            known = self.evaluation.car.exact.get(slot)
        state: Known = subject.vector[slot]
        return state if known is None else known

    def limit(self, name: str, kind: Kind | None = None) -> str:
        """A limit in the units of the region; a limit written in that unit stays as written."""
        limit = self.ruleset.limits[name]
        shown_as = kind or limit.kind
        return show(limit.amount, shown_as, self.unit(shown_as))

    def because(self, rule: Rule, where: str | None) -> str:
        """A rule's reason with facts and limits filled in, and who set a shop's own rule."""
        text = self.fill(rule.because, where, rule.when)
        return f"{text} {self._of_shop(rule.shop)}" if rule.shop else text

    @staticmethod
    def _of_shop(change: ShopChange) -> str:
        instead = (
            say(", in place of the supplied {rule}", rule=change.replaces)
            if change.replaces
            else ""
        )
        return say(
            "(Shop rule by {who}, {when}{instead}: {why}.)",
            who=change.by,
            when=change.on,
            instead=instead,
            why=change.why.rstrip("."),
        )

    def shop_limit(self, name: str | None) -> str:
        """What is said behind a limit that the shop set: what the supplied set says."""
        limit = self.ruleset.limits.get(name or "")
        if limit is None or limit.shop is None:
            return ""
        if limit.shop.supplied is None:
            return " " + say("(shop limit)")
        supplied = parse_quantity(limit.shop.supplied, limit.kind).amount
        shown = show(supplied, limit.kind, self.unit(limit.kind))
        return " " + say("(shop limit, supplied {limit})", limit=shown)

    def fill(self, text: str, where: str | None, when: Condition | None = None) -> str:
        """Fill `{fact}`, `{limit}` and `{panel}` placeholders."""
        subject = self.evaluation.subject(where)
        compared = self._compared(subject, when)

        def put(match: re.Match[str]) -> str:
            name = match.group(1)
            if name == "panel":
                return where or say("the car")
            if name in compared:
                return compared[name] + self.shop_limit(name)
            if name in self.ruleset.limits:
                return self.limit(name) + self.shop_limit(name)
            if name in self.evaluation.program.slots:
                return self.state(subject, name)
            return match.group(0)

        return _PLACEHOLDER.sub(put, text)

    def _compared(self, subject: Subject, when: Condition | None) -> dict[str, str]:
        """Texts of facts and the limits they are compared with, rounded so as not to mislead."""
        found: dict[str, str] = {}
        for leaf in leaves(when) if when else ():
            pair = self._pair(subject, leaf)
            if pair and leaf.limit:
                found.setdefault(leaf.fact, pair[0])
                found[leaf.limit] = pair[1]
        return found

    def _pair(self, subject: Subject, leaf: Leaf) -> tuple[str, str] | None:
        spec = self.evaluation.program.facts.get(leaf.fact)
        if spec is None or not isinstance(leaf.operand, Fraction) or spec.spec.quantity is None:
            return None
        known = subject.exact.get(spec.slot, self.evaluation.car.exact.get(spec.slot))
        kind = spec.spec.quantity
        if not isinstance(known, Fraction):
            return None
        return show_against(known, leaf.operand, kind, self.unit(kind))

    def test(self, leaf: Leaf, *, negated: bool = False) -> str:
        """What a test asks for, such as `typical film above 12 mil`."""
        program = self.evaluation.program
        spec = program.facts[leaf.fact].spec if leaf.fact in program.facts else None
        title = within(spec.title) if spec else leaf.fact
        if leaf.test is Test.KNOWN:
            known = (leaf.operand == "yes") is not negated
            if known:
                return say("{fact} known", fact=title)
            return say("{fact} not known", fact=title)
        if isinstance(leaf.operand, frozenset):
            among = [self._operand(spec, member) for member in _in_order(spec, leaf)]
            sentence = _SENTENCES[leaf.test is Test.INCLUDES, negated]
            return say(sentence, fact=title, value=say(" or ").join(among))
        limit = self._operand(spec, leaf.operand) + self.shop_limit(leaf.limit)
        word = _OPPOSITE[leaf.test] if negated else leaf.test
        return say(_WORDS[word], fact=title, limit=limit)

    def gap(self, fact: str, amount: Fraction) -> str:
        """A difference between two values of a fact; a temperature's is no temperature."""
        spec = self.evaluation.program.facts[fact].spec
        kind = spec.quantity or Kind.NUMBER
        if kind is Kind.TEMPERATURE:
            kind = Kind.TEMPERATURE_DIFFERENCE
        return show(amount, kind, self.unit(kind))

    def _operand(self, spec: FactSpec | None, operand: str | Fraction) -> str:
        if isinstance(operand, str):
            return self.choice(spec, operand) if spec else self.treatment(operand)
        kind = spec.quantity if spec else None
        return show(operand, kind, self.unit(kind)) if kind else str(operand)


_WORDS = {
    Test.ABOVE: sentence("{fact} above {limit}"),
    Test.AT_LEAST: sentence("{fact} at least {limit}"),
    Test.BELOW: sentence("{fact} below {limit}"),
    Test.AT_MOST: sentence("{fact} at most {limit}"),
}
_SENTENCES = {
    (True, False): sentence("{fact} to include {value}"),
    (True, True): sentence("{fact} to not include {value}"),
    (False, False): sentence("{fact} to be {value}"),
    (False, True): sentence("{fact} to not be {value}"),
}
"""By whether a set is tested, and whether it has to fail."""
_OPPOSITE = {
    Test.ABOVE: Test.AT_MOST,
    Test.AT_LEAST: Test.BELOW,
    Test.BELOW: Test.AT_LEAST,
    Test.AT_MOST: Test.ABOVE,
}


def _in_order(spec: FactSpec | None, leaf: Leaf) -> list[str | Fraction]:
    assert isinstance(leaf.operand, frozenset)
    members: list[str | Fraction] = list(leaf.operand)
    if spec is not None and spec.kind in (FactKind.CHOICE, FactKind.SET, FactKind.YES_NO):
        order = {choice: rank for rank, choice in enumerate(spec.choice_ids)}
        return sorted(members, key=lambda member: order.get(str(member), 0))
    return sorted(members, key=str)
