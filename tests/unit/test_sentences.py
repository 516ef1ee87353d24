"""The program's own sentences: every one that is said is there in every language, and no other."""

from __future__ import annotations

import ast
import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

import cli
import engine
from cli.report.customer import customer_words
from engine.document import read_document
from engine.quantity.units import KINDS
from engine.ruleset.model import About
from engine.ruleset.schema import shape_problems
from engine.ruleset.templates import placeholders
from engine.supplied import languages_folder, report_folder, schema_folder
from engine.words import SENTENCES, speaking, tongue, tongues

PAGES = Path(cli.__path__[0]) / "report" / "templates"
ROOTS = [Path(package.__path__[0]) for package in (cli, engine)]
WORDS = ("engine.words", "cli.output.plan_words")


def sources() -> Iterator[tuple[Path, ast.Module]]:
    for root in ROOTS:
        for path in sorted(root.rglob("*.py")):
            yield path, ast.parse(path.read_text("utf-8"))


def imported(module: ast.Module) -> set[str]:
    return {
        alias.asname or alias.name
        for node in ast.walk(module)
        if isinstance(node, ast.ImportFrom) and node.module in WORDS
        for alias in node.names
    }


def said(*functions: str, position: int = 0) -> set[str]:
    """The texts handed to these functions of `engine.words`."""
    found = set()
    for _, module in sources():
        here = imported(module) & set(functions)
        for node in ast.walk(module):
            if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Name):
                continue
            if node.func.id in here and len(node.args) > position:
                text = node.args[position]
                if isinstance(text, ast.Constant):
                    found.add(str(text.value))
    return found


def test_the_program_speaks_spanish() -> None:
    assert tongues() == ["es"]
    assert len(said("say", "sentence")) > 200


@pytest.mark.parametrize("id", tongues())
def test_every_sentence_is_there_and_none_is_left_over(id: str) -> None:
    sentences = tongue(id).sentences
    texts = said("say", "sentence") | in_pages("say", 1) | others()
    assert sorted(texts - sentences.keys()) == []
    assert sorted(sentences.keys() - texts) == []


def in_pages(function: str, position: int = 1) -> set[str]:
    """The texts handed to a function in the templates of reports."""
    before = r"[^,()]+, " * (position - 1)
    call = re.compile(rf'(?<!\w){function}\({before}"((?:[^"\\]|\\.)*)"')
    pages = (path.read_text("utf-8") for path in PAGES.glob("*.j2"))
    return {found for page in pages for found in call.findall(page)}


def others() -> set[str]:
    """What stands in tables: nouns of quantities, whom a fact is about, titles of vehicles."""
    nouns = {kind.noun for kind in KINDS.values()}
    vehicles = sorted((report_folder() / "vehicles").glob("*.yaml"))
    titles = {str(read_document(path).data["title"]) for path in vehicles}
    return nouns | {str(about) for about in About} | titles


@pytest.mark.parametrize("id", tongues())
def test_every_counted_noun_has_both_forms(id: str) -> None:
    counted = said("counted", position=1) | in_pages("counted", 2)
    assert sorted(counted - tongue(id).nouns.keys()) == []


@pytest.mark.parametrize("id", tongues())
def test_the_parts_of_a_sentence_are_kept(id: str) -> None:
    for english, other in tongue(id).sentences.items():
        assert set(placeholders(english)) == set(placeholders(other)), english


@pytest.mark.parametrize("id", tongues())
def test_files_of_sentences_follow_their_schema(id: str) -> None:
    file = languages_folder() / id / SENTENCES
    assert shape_problems(read_document(file), "sentences") == []
    schema = json.loads((schema_folder() / "sentences.schema.json").read_text("utf-8"))
    Draft202012Validator.check_schema(schema)
    assert not Draft202012Validator(schema).is_valid({"prepwright": "sentences/1"})


@pytest.mark.parametrize("id", tongues())
def test_customers_are_told_the_same_in_every_language(id: str) -> None:
    with speaking(tongue(id)):
        other = customer_words()
    english = customer_words()
    assert other.treatments.keys() == english.treatments.keys()
    assert other.reasons.keys() == english.reasons.keys()
    assert other.holds.keys() == english.holds.keys()
    assert other.cautions.keys() == english.cautions.keys()
    assert len(other.may_change) == len(english.may_change)
    assert other.safety != english.safety
