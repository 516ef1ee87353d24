"""Which fact a key in a job file names, where facts belong, and what leads to those not told.

Inside `shop` and `car` the prefix may be dropped: `shop: {region: us}` tells `shop.region`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from difflib import get_close_matches

from engine.plaintext import folded
from engine.ruleset.model import About, All, Any, Condition, FactSpec, Leaf, Not, RuleSet

TREATMENT = "treatment"

_LISTED = 40


class FactKeys:
    """Looks up keys of a job file in one rule set."""

    def __init__(self, ruleset: RuleSet) -> None:
        self._ruleset = ruleset
        self._specs: dict[tuple[About, str], FactSpec] = {}
        self._groups: set[tuple[About, str]] = set()
        self._words: dict[About, dict[str, str]] = {}
        for spec in ruleset.facts.values():
            for key in _keys(spec):
                self._specs.setdefault((spec.about, key), spec)
        # A full id always names its own fact, whatever another fact's short key may be.
        self._specs.update({(spec.about, spec.id): spec for spec in ruleset.facts.values()})
        for about, key in self._specs:
            parts = key.split(".")
            for end in range(1, len(parts)):
                self._groups.add((about, ".".join(parts[:end])))

    def find(self, about: About, key: str) -> FactSpec | None:
        """The fact that `key` names in the section of `about`."""
        return self._specs.get((about, key))

    def is_group(self, about: About, key: str) -> bool:
        """Whether dotted ids of facts begin with `key`."""
        return (about, key) in self._groups

    def short(self, spec: FactSpec) -> str:
        """The shortest key that names `spec` in its section."""
        return next(key for key in _keys(spec) if self.find(spec.about, key) is spec)

    def elsewhere(self, about: About, key: str) -> FactSpec | None:
        """The fact that `key` names in another section than that of `about`."""
        others = (other for other in About if other is not about)
        return next(filter(None, (self.find(other, key) for other in others)), None)

    def members(self, about: About, key: str) -> list[str]:
        """The told facts whose ids begin with `key`, as they stand under it."""
        return [
            name.removeprefix(f"{key}.")
            for (where, name), spec in self._specs.items()
            if where is about and spec.told and name.startswith(f"{key}.")
        ]

    def nearest(self, about: About, key: str) -> str:
        """A suggestion for a key that names nothing."""
        told = [spec for spec in self._ruleset.facts.values() if spec.about is about and spec.told]
        words = self._words.setdefault(about, {})
        if not words:
            words |= {folded(word): self.short(spec) for spec in told for word in spec.words}
            words |= {folded(word): self.short(spec) for spec in told for word in _keys(spec)}
        near = get_close_matches(folded(key)[:80], sorted(words), n=3, cutoff=0.6)
        if near:
            return f"Did you mean {marked(dict.fromkeys(words[each] for each in near), 'or')}?"
        names = [self.short(spec) for spec in told]
        if 0 < len(names) <= _LISTED:
            return f"What can be told of a {about.value}: {marked(names)}."
        return "Check the spelling."

    def led_to_by(self, fact: str) -> list[str]:
        """The told facts from which `fact` is worked out or concluded, in the rule set's order."""
        seen: set[str] = set()
        waiting = [fact]
        while waiting:
            for name in self._read_by(waiting.pop()):
                if name not in seen:
                    seen.add(name)
                    waiting.append(name)
        return [spec.id for spec in self._ruleset.facts.values() if spec.id in seen and spec.told]

    def _read_by(self, fact: str) -> Iterator[str]:
        spec = self._ruleset.facts.get(fact)
        if spec is not None and spec.reckoned is not None:
            # Loaded here alone: reckoning is of no use to a job file without mistakes.
            from engine.reckoning.reckoners import RECKONERS

            reckoner = RECKONERS.get(spec.reckoned)
            # What is only taken along leads nowhere by itself, unless nothing else is read.
            yield from (reckoner.reads or reckoner.also) if reckoner else ()
        elif spec is not None and spec.gathered is not None:
            yield from facts_in(spec.gathered.condition)
        elif spec is None or not spec.told:
            for rule in self._ruleset.rules.values():
                gives = fact == TREATMENT and rule.then.treatment is not None
                if gives or any(name == fact for name, _ in rule.then.conclude):
                    yield from facts_in(rule.when)


def facts_in(condition: Condition) -> Iterator[str]:
    """The ids of the facts a condition reads, in the order in which they stand."""
    match condition:
        case Leaf():
            yield condition.fact
        case Not():
            yield from facts_in(condition.part)
        case All() | Any():
            for part in condition.parts:
                yield from facts_in(part)


def marked(names: Iterable[str], last: str = "and", longest: int = _LISTED) -> str:
    """`a`, `b` and `c`, each in backquotes; past `longest` the rest is counted."""
    shown = [f"`{name}`" for name in names]
    if len(shown) > longest:
        shown = [*shown[:longest], f"{len(shown) - longest} more"]
    if len(shown) < 2:
        return "".join(shown)
    return f"{', '.join(shown[:-1])} {last} {shown[-1]}"


def _keys(spec: FactSpec) -> tuple[str, ...]:
    """The keys that may name `spec` in its section, shortest first."""
    prefix = f"{spec.about.value}."
    if spec.about is not About.PANEL and spec.id.startswith(prefix):
        return (spec.id.removeprefix(prefix), spec.id)
    return (spec.id,)
