"""A rule set as it reads in another language: the same rules, digest and ids, other texts.

A text that a language lacks, that was made for another English, or that lost a placeholder stays
English behind a mark. Where a shop's changes put something in the place of a supplied part, the
supplied translation is left out with it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from engine.errors import Place, UsageError, did_you_mean
from engine.plaintext import folded
from engine.ruleset.coats import PaintSystem
from engine.ruleset.entries import SUPPLIED
from engine.ruleset.language import Language, Said, language_of, languages_in
from engine.ruleset.model import (
    Caution,
    Choice,
    FactSpec,
    HoldTopic,
    Limit,
    Product,
    Rule,
    RuleSet,
    Step,
    Table,
    Treatment,
)
from engine.ruleset.report import Report
from engine.ruleset.templates import placeholders
from engine.ruleset.texts import Keys
from engine.ruleset.vocabulary import Vocabulary, Words
from engine.ruleset.work import Gear
from engine.supplied import supplied_ruleset_folder
from engine.words import ENGLISH, MARK, Tongue, tongue, tongues


def in_language(ruleset: RuleSet, folder: Path, id: str) -> RuleSet:
    """The rule set loaded from `folder` with its texts in the language `id`.

    English gives the rule set itself. Raises UsageError where nothing is there in that language,
    RuleSetError with all that is wrong in its files.
    """
    if id.casefold() == ENGLISH:
        return ruleset
    own, supplied = _languages(ruleset, folder, id)
    if own is None and supplied is None and id not in tongues():
        known = known_languages(ruleset, folder)
        fix = did_you_mean(id, known) or f"There are: {', '.join(known)}."
        raise UsageError(f"there is no language `{id}` here. {fix}")
    return _Speaker(ruleset, own, supplied, id).ruleset()


def known_languages(ruleset: RuleSet, folder: Path) -> list[str]:
    """Every language in which the program or the rules have texts."""
    return sorted({ENGLISH, *tongues(), *_known(ruleset, folder)})


def _known(ruleset: RuleSet, folder: Path) -> Iterable[str]:
    yield from languages_in(folder)
    for below in _below(ruleset, folder):
        yield from languages_in(below)


def _below(ruleset: RuleSet, folder: Path) -> list[Path]:
    """Where the supplied set below a shop's changes may have its languages, nearest first."""
    if ruleset.shop is None:
        return []
    found = [folder / SUPPLIED]
    try:
        found.append(supplied_ruleset_folder(ruleset.shop.builds_on))
    except UsageError:
        # A shop's own copy may be of a set that is not supplied any more.
        return found
    return found


def _languages(
    ruleset: RuleSet, folder: Path, id: str
) -> tuple[Language | None, Language | None]:  # fmt: skip
    report = Report()
    own = language_of(folder, id, report) if _is_there(folder, id) else None
    supplied = None
    for below in _below(ruleset, folder):
        if supplied is None and _is_there(below, id):
            supplied = language_of(below, id, report, f"{SUPPLIED}/")
    report.refuse()
    return own, supplied


def _is_there(folder: Path, id: str) -> bool:
    return id in languages_in(folder)


@dataclass(frozen=True, slots=True)
class _Said:
    """What is said of one part of a rule set: by the languages that may speak of it, in turn."""

    languages: tuple[Language, ...]
    what: str
    id: str

    def text(self, english: str, *keys: str) -> str:
        """A text; the English behind a mark where it has none that fits."""
        return self.found((english,), keys)[0]

    def maybe(self, english: str | None, *keys: str) -> str | None:
        return None if english is None else self.text(english, *keys)

    def lines(self, english: tuple[str, ...], *keys: str) -> tuple[str, ...]:
        return self.found(english, keys) if english else ()

    def name(self, english: str, *keys: str) -> str:
        """The name of a part of a product; a mark would not do on a tin."""
        return self.found((english,), keys, mark="")[0]

    def words(self, *keys: str) -> tuple[str, ...]:
        return tuple(word for said in self._every(keys) for word in said.texts)

    def groups(self, *keys: str) -> tuple[Keys, ...]:
        return tuple(group for said in self._every(keys) for group in said.groups)

    def _every(self, keys: Keys) -> Iterator[Said]:
        key = (self.what, self.id, keys)
        return (each.texts[key] for each in self.languages if key in each.texts)

    def found(
        self, english: tuple[str, ...], keys: Keys, mark: str = f"{MARK} "
    ) -> tuple[str, ...]:
        key = (self.what, self.id, keys)
        for language in self.languages:
            texts = language.fresh(key, english)
            if texts is not None and _names(texts) == _names(english):
                return texts
        return tuple(f"{mark}{line}" for line in english)


def _names(texts: Iterable[str]) -> set[str]:
    return {name for line in texts for name in placeholders(line)}


@dataclass(frozen=True, slots=True)
class _Speaker:
    """Puts the texts of a rule set into a language; `own` comes before `supplied`."""

    original: RuleSet
    own: Language | None
    supplied: Language | None
    id: str

    def ruleset(self) -> RuleSet:
        old = self.original
        whole = self._of("rule set", "rule set", None)
        return replace(
            old,
            title=old.title if old.shop else whole.text(old.title, "title"),
            facts={id: self._fact(each) for id, each in old.facts.items()},
            limits={id: self._limit(each) for id, each in old.limits.items()},
            rules={id: self._rule(each) for id, each in old.rules.items()},
            treatments={id: self._treatment(each) for id, each in old.treatments.items()},
            holds={id: self._hold(each) for id, each in old.holds.items()},
            cautions={id: self._caution(each) for id, each in old.cautions.items()},
            standing_caution=self._of("cautions", "cautions", None).text(
                old.standing_caution, "standing"
            ),
            steps={id: self._step(each) for id, each in old.steps.items()},
            products={id: self._product(each) for id, each in old.products.items()},
            systems={id: self._system(each) for id, each in old.systems.items()},
            gear={id: self._gear(each) for id, each in old.gear.items()},
            tables={id: self._table(each) for id, each in old.tables.items()},
            vocabulary=self._vocabulary(old.vocabulary),
            tongue=self._tongue(),
            original=old,
        )

    def _tongue(self) -> Tongue:
        head = self.supplied or self.own
        if head is None:
            return tongue(self.id)
        note = None if head.checked else head.note
        return replace(tongue(self.id), comma=head.comma, note=note)

    def _of(self, what: str, id: str, place: Place | None) -> _Said:
        """What is said of a part. A shop's own part has no supplied translation."""
        of_shop = (
            self.original.shop is not None
            and place is not None
            and not place.file.startswith(f"{SUPPLIED}/")
        )
        languages = (self.own, None if of_shop else self.supplied)
        return _Said(tuple(each for each in languages if each is not None), what, id)

    # --- parts ------------------------------------------------------------------------------------

    def _fact(self, old: FactSpec) -> FactSpec:
        said = self._of("fact", old.id, old.place)
        refusal = old.refusal
        if refusal is not None:
            refusal = replace(refusal, because=said.text(refusal.because, "refuse-because"))
        return replace(
            old,
            title=said.text(old.title, "title"),
            ask=said.maybe(old.ask, "ask"),
            how=said.lines(old.how, "how"),
            choices=tuple(_choices(old, said)),
            refusal=refusal,
            # The English name of a fact goes on naming it.
            words=(*old.words, old.title, *said.words("words")),
        )

    def _limit(self, old: Limit) -> Limit:
        return replace(old, note=self._of("limit", old.id, old.place).maybe(old.note, "note"))

    def _rule(self, old: Rule) -> Rule:
        said = self._of("rule", old.id, old.place)
        because = said.text(old.because, "because")
        return replace(old, because=because, note=said.maybe(old.note, "note"))

    def _treatment(self, old: Treatment) -> Treatment:
        # A treatment is always of the supplied set.
        said = self._of("treatment", old.id, None)
        return replace(old, title=said.text(old.title, "title"), text=said.text(old.text, "text"))

    def _hold(self, old: HoldTopic) -> HoldTopic:
        said = self._of("hold", old.id, old.place)
        release = said.text(old.release, "release")
        return replace(old, title=said.text(old.title, "title"), release=release)

    def _caution(self, old: Caution) -> Caution:
        said = self._of("caution", old.id, old.place)
        return replace(old, title=said.text(old.title, "title"), text=said.text(old.text, "text"))

    def _step(self, old: Step) -> Step:
        said = self._of("step", old.id, old.place)
        work, within = old.work, old.work.within
        if within is not None:
            otherwise = said.maybe(within.otherwise, "within", "otherwise")
            work = replace(work, within=replace(within, otherwise=otherwise))
        return replace(
            old, title=said.text(old.title, "title"), text=said.text(old.text, "text"), work=work
        )

    def _product(self, old: Product) -> Product:
        said = self._of("product", old.id, old.place)
        handling = old.handling
        thinner, drying = handling.thinner, handling.drying
        called = {part: said.name(part, "parts", part) for part in handling.parts}
        if thinner is not None:
            called[thinner.name] = said.name(thinner.name, "thinner", "name")
            thinner = replace(thinner, name=called[thinner.name])
        if len(set(called.values())) < len(called):
            # Two parts under one name could not be told apart in a mix.
            called = {}
            thinner = handling.thinner
        if drying is not None:
            closed = said.maybe(drying.once_closed, "drying", "recoat", "once-closed")
            drying = replace(drying, once_closed=closed)
        return replace(
            old,
            title=said.text(old.title, "title"),
            handling=replace(
                handling,
                parts={called.get(part, part): many for part, many in handling.parts.items()},
                thinner=thinner,
                drying=drying,
                cans={called.get(part, part): sizes for part, sizes in handling.cans.items()},
            ),
        )

    def _system(self, old: PaintSystem) -> PaintSystem:
        said = self._of("paint system", old.id, old.place)
        return replace(old, title=said.text(old.title, "title"))

    def _gear(self, old: Gear) -> Gear:
        said = self._of("gear", old.id, old.place)
        return replace(old, title=said.text(old.title, "title"), text=said.text(old.text, "text"))

    def _table(self, old: Table) -> Table:
        said = self._of("table", old.id, old.place)
        return replace(old, title=said.text(old.title, "title"), note=said.maybe(old.note, "note"))

    def _vocabulary(self, old: Vocabulary) -> Vocabulary:
        said = self._of("vocabulary", "vocabulary", None)

        def more(key: str, words: Words) -> Words:
            return {
                name: tuple(dict.fromkeys((*there, *said.words(key, name))))
                for name, there in words.items()
            }

        return replace(
            old,
            columns=more("columns", old.columns),
            statistics=more("statistics", old.statistics),
            checks=more("checks", old.checks),
            panels=more("panels", old.panels),
            out_of_range=(*old.out_of_range, *said.words("out-of-range")),
            no_reading=(*old.no_reading, *said.words("no-reading")),
            opposites=(*old.opposites, *said.groups("opposites")),
        )


def _choices(old: FactSpec, said: _Said) -> Iterator[Choice]:
    taken = {
        folded(word): choice.id
        for choice in old.choices
        for word in (choice.id, choice.text, *choice.also)
    }
    for choice in old.choices:
        words = (*choice.also, choice.text, *said.words("choices", choice.id, "also"))
        mine = (word for word in words if taken.setdefault(folded(word), choice.id) == choice.id)
        text = said.text(choice.text, "choices", choice.id, "text")
        # Its beginning may be typed for it, as that of any other word.
        yield Choice(choice.id, text, tuple(dict.fromkeys((*mine, text))))
