"""Starts the files of a language, and notes which English its texts were made from."""

from __future__ import annotations

import json
import re
import textwrap
from collections.abc import Iterable, Iterator
from pathlib import Path

from engine.errors import UsageError
from engine.ruleset.check_language import Texts
from engine.ruleset.language import FINGERPRINTS, HEAD, fingerprint, name_of
from engine.ruleset.texts import Form, Text
from engine.words import ENGLISH, LANGUAGES

_TAG = re.compile(r"[A-Za-z]{2,3}(-[A-Za-z0-9]{2,8})*")
_WIDTH = 100

_HEAD = """\
# The texts of this rule set in another language. The other files here mirror those of the rule
# set: the same names and keys, the same placeholders, no numbers changed. An empty text is missing.
prepwright: language/1
language: {id}
name: {id}          # what the language calls itself
checked: no         # yes, once a native speaker of the trade went over all of it
"""

_Tree = dict[str, "Text | _Tree"]


def start_language(folder: Path, id: str, english: Iterable[Text]) -> list[Path]:
    """Start the files of a language, every text empty below its English; give those written.

    Files that are there already stay as they are. Raises UsageError where `id` names no language.
    """
    if not _TAG.fullmatch(id) or id.casefold() == ENGLISH:
        raise UsageError(
            f"`{id}` names no language to translate into; take a tag such as `es` or `pt-BR`"
        )
    by_file: dict[str, _Tree] = {}
    for text in english:
        tree = by_file.setdefault(text.file, {})
        *above, last = text.path
        for key in above:
            inner = tree.setdefault(key, {})
            assert isinstance(inner, dict)
            tree = inner
        tree[last] = text
    here = folder / LANGUAGES / id
    contents = {HEAD: _HEAD.format(id=id)}
    contents |= {file: "\n".join(_lines(tree, 0)) + "\n" for file, tree in by_file.items()}
    written = []
    for name, content in contents.items():
        file = here / name
        if not file.exists():
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_text(content, "utf-8")
            written.append(file)
    return written


def _lines(tree: _Tree, depth: int) -> Iterator[str]:
    indent = "  " * depth
    for key, inner in tree.items():
        if isinstance(inner, dict):
            yield f"{indent}{key}:"
            yield from _lines(inner, depth + 1)
            continue
        for line in _shown(inner):
            yield from textwrap.wrap(
                line,
                _WIDTH,
                initial_indent=f"{indent}# ",
                subsequent_indent=f"{indent}#   ",
                break_long_words=False,
                break_on_hyphens=False,
            )
        yield f"{indent}{key}:"


def _shown(text: Text) -> Iterable[str]:
    if text.field.form is Form.WORDS:
        return (f"adds to: {', '.join(text.english)}",)
    return text.english


def note_fingerprints(folder: Path, texts: Texts) -> int:
    """Note for every text of a language the English it now stands for; gives how many there are.

    All of them count as fitting from now on, those that were stale too.
    """
    marks: dict[str, dict[str, str]] = {}
    for text, said in texts.said:
        mark = f"{fingerprint(text.english)} {fingerprint(said.texts)}"
        marks.setdefault(text.what, {})[name_of(text.key)] = mark
    file = folder / LANGUAGES / texts.language.id / FINGERPRINTS
    ordered = {what: dict(sorted(names.items())) for what, names in sorted(marks.items())}
    file.write_text(json.dumps(ordered, indent=0, ensure_ascii=False) + "\n", "utf-8")
    return sum(len(names) for names in marks.values())
