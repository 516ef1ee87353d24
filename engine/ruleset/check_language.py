"""Compares the texts of a language with the English they stand for.

    text-missing        nobody has translated it
    text-extra          there is no such English text
    text-placeholders   the placeholders are others than in the English
    text-stale          the English was changed since
    text-misplaced      it stands in another file than the English
    word-taken          a word for a choice stands for another choice as well

What is extra, has wrong placeholders or a word that is taken is an error; the rest are warnings.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from engine.errors import Place, did_you_mean
from engine.ruleset.entries import Files, read_files, read_shop_files
from engine.ruleset.finding import Finding, error, of_problem, warning
from engine.ruleset.language import Key, Language, Said, language_of, languages_in
from engine.ruleset.loaded_texts import loaded_texts
from engine.ruleset.model import RuleSet
from engine.ruleset.report import Report, listed
from engine.ruleset.shop_files import is_shop_folder
from engine.ruleset.templates import placeholders, stray_brace
from engine.ruleset.texts import Form, Text, named, texts_of
from engine.words import LANGUAGES

_FEW = 5


@dataclass(frozen=True, slots=True)
class Texts:
    """The English texts of a rule set in file order, and what a language says for each."""

    english: tuple[Text, ...]
    language: Language

    @property
    def due(self) -> tuple[Text, ...]:
        return tuple(text for text in self.english if text.due)

    @property
    def missing(self) -> tuple[Text, ...]:
        return tuple(text for text in self.due if text.key not in self.language.texts)

    @property
    def stale(self) -> tuple[Text, ...]:
        # Words only add to the English ones, so that none of them can be out of date.
        return tuple(
            text
            for text in self.english
            if text.field.form is not Form.WORDS and self.language.stale(text.key, text.english)
        )

    @property
    def said(self) -> Iterator[tuple[Text, Said]]:
        """Each English text that has one in the language, with it."""
        for text in self.english:
            said = self.language.texts.get(text.key)
            if said is not None:
                yield text, said


def english_texts(folder: Path, report: Report) -> tuple[Text, ...]:
    """The texts of a rule set, or those of a shop's own files, in file order.

    What is wrong with the files goes to `report`.
    """
    found = texts_of(_files(folder, report))
    return tuple(sorted(found, key=lambda text: (text.file, text.place)))


def _files(folder: Path, report: Report) -> Files:
    if is_shop_folder(folder):
        return read_shop_files(folder, report, with_cases=False)
    return read_files(folder, report, with_cases=False)


def compared(folder: Path, id: str, report: Report) -> Texts | None:
    """The texts of a rule set beside those of a language; None where its files are wrong."""
    english = english_texts(folder, report)
    language = language_of(folder, id, report)
    return None if language is None or len(report) else Texts(english, language)


def language_findings(ruleset: RuleSet, folder: Path) -> Iterator[Finding]:
    """What is wrong with the languages in a rule set's folder; what is missing once for each file.

    `ruleset` is the one loaded from there. A shop's languages may word supplied parts otherwise
    and need not translate them.
    """
    english = tuple(loaded_texts(ruleset))
    for id in languages_in(folder):
        report = Report()
        language = language_of(folder, id, report)
        yield from (of_problem(problem) for problem in report.problems)
        if language is not None and not len(report):
            texts = Texts(english, language)
            yield from (*wrong(texts), *_missing_by_file(texts))


def wrong(texts: Texts) -> Iterator[Finding]:
    """Every finding but what is missing."""
    yield from _extra(texts)
    for text, said in texts.said:
        yield from _placeholders(text, said)
        if text.own and said.file != text.file:
            yield warning(
                "text-misplaced",
                f"{text} stands in `{text.file}` and not in `{said.file}`",
                said.place,
                f"Move it to `{LANGUAGES}/{texts.language.id}/{text.file}`.",
            )
    for text in texts.stale:
        yield warning(
            "text-stale",
            f"the English of {text} was changed since",
            texts.language.texts[text.key].place,
            f"It now says: {' '.join(text.english)}",
        )
    yield from _taken(texts)


def missing(texts: Texts) -> Iterator[Finding]:
    """Every text that nobody has translated, at the place of the English."""
    for text in texts.missing:
        yield warning(
            "text-missing",
            f"{text} is not in `{texts.language.id}`",
            text.place,
            f"Write it in `{LANGUAGES}/{texts.language.id}/{text.file}`: {' '.join(text.english)}",
        )


def _missing_by_file(texts: Texts) -> Iterator[Finding]:
    by_file: dict[str, list[Text]] = {}
    for text in texts.missing:
        by_file.setdefault(text.file, []).append(text)
    id = texts.language.id
    for file, lacking in by_file.items():
        few = "; ".join(str(text) for text in lacking[:_FEW])
        more = f", and {len(lacking) - _FEW} more" if len(lacking) > _FEW else ""
        yield warning(
            "text-missing",
            f"{len(lacking)} {'text is' if len(lacking) == 1 else 'texts are'} not in `{id}`: "
            f"{few}{more}",
            Place(f"{LANGUAGES}/{id}/{file}", 1, 1),
            f"`prepwright rules texts --language {id}` names each with its English.",
        )


def _extra(texts: Texts) -> Iterator[Finding]:
    english = {text.key: text for text in texts.english}
    ids: dict[str, set[str]] = {}
    for text in texts.english:
        ids.setdefault(text.what, set()).add(text.id)
    told: set[tuple[str, str]] = set()
    for key, said in texts.language.texts.items():
        what, id, keys = key
        if key in english or _adds_freely(key, said, english, ids.get(what, ())):
            continue
        if id not in ids.get(what, ()):
            if (what, id) not in told:
                told.add((what, id))
                near = did_you_mean(id, ids.get(what, ()))
                yield error(
                    "text-extra",
                    f"the rule set has no {what} `{id}`",
                    said.place,
                    near or "Take it out.",
                )
            continue
        yield error(
            "text-extra",
            f"the {named(what, id)} has no English text under `{'.'.join(keys)}`",
            said.place,
            _near_keys(keys, (text for text in texts.english if text.key[:2] == key[:2])),
        )


def _adds_freely(
    key: Key, said: Said, english: Mapping[Key, Text], ids: Iterable[str]
) -> bool:  # fmt: skip
    """Words, and notes that are shown nowhere, may stand without English; a choice may not."""
    what, id, keys = key
    if said.field.due or (id not in ids and id != what):
        return False
    return keys[0] != "choices" or (what, id, (*keys[:-1], "text")) in english


def _near_keys(keys: tuple[str, ...], texts: Iterable[Text]) -> str:
    there = [".".join(text.keys) for text in texts]
    return did_you_mean(".".join(keys), there) or f"There are: {listed(there)}."


def _placeholders(text: Text, said: Said) -> Iterator[Finding]:
    if text.field.form is Form.WORDS:
        return
    wanted = {name for line in text.english for name in placeholders(line)}
    found = {name for line in said.texts for name in placeholders(line)}
    lacking, strange = sorted(wanted - found), sorted(found - wanted)
    words = []
    if lacking:
        words.append(f"lacks {_in_braces(lacking)}")
    if strange:
        words.append(f"has {_in_braces(strange)}, which the English has not")
    if not words and any(stray_brace(line) for line in said.texts):
        words.append("has a brace that stands alone")
    if words:
        fix = f"Keep {_in_braces(sorted(wanted))} as written." if wanted else "Take it out."
        yield error("text-placeholders", f"{text} {', and '.join(words)}", said.place, fix)


def _in_braces(names: Iterable[str]) -> str:
    return listed(f"{{{name}}}" for name in names)


def _taken(texts: Texts) -> Iterator[Finding]:
    """Words for a choice that, in this language or in English, stand for another one too."""
    by_fact: dict[str, dict[str, str]] = {}
    for text in texts.english:
        if _is_also(text) or (text.what == "fact" and text.keys[-1:] == ("text",)):
            choice = text.keys[1]
            words = by_fact.setdefault(text.id, {})
            words.setdefault(choice.casefold(), choice)
            if _is_also(text):
                words.update({word.casefold(): choice for word in text.english})
    for (what, id, keys), said in texts.language.texts.items():
        if what != "fact" or keys[0] != "choices" or keys[-1] != "also":
            continue
        words = by_fact.get(id, {})
        for word in said.texts:
            other = words.setdefault(word.casefold(), keys[1])
            if other != keys[1]:
                yield error(
                    "word-taken",
                    f"`{word}` stands for `{other}` and for `{keys[1]}` of `{id}`",
                    said.place,
                    "Leave the word with one of them.",
                )


def _is_also(text: Text) -> bool:
    return text.what == "fact" and text.keys[0] == "choices" and text.keys[-1] == "also"
