"""Each folder of bad_languages changes the small language in one way and says what must be told."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from test_ruleset_schemas import properties

from engine.document import read_document
from engine.errors import DocumentError, RuleSetError, UsageError
from engine.ruleset import load_ruleset
from engine.ruleset.check_language import (
    Texts,
    compared,
    english_texts,
    language_findings,
    missing,
    wrong,
)
from engine.ruleset.entries import LANGUAGE_PARTS
from engine.ruleset.finding import Severity
from engine.ruleset.language import languages_in
from engine.ruleset.language_folder import note_fingerprints, start_language
from engine.ruleset.loaded_texts import loaded_texts
from engine.ruleset.report import Report
from engine.ruleset.schema import shape_problems
from engine.ruleset.texts import Form
from engine.supplied import schema_folder, supplied_ruleset_folder

HERE = Path(__file__).parent
BAD = sorted(path for path in (HERE / "bad_languages").iterdir() if path.is_dir())


def translated(folder: Path, bad: Path | None = None) -> Path:
    """The small rule set with its Spanish, and the files of `bad` put in."""
    for source in ("small_ruleset", "small_language"):
        shutil.copytree(HERE / source, folder, dirs_exist_ok=True)
    if bad is not None:
        shutil.copytree(bad, folder, dirs_exist_ok=True)
        (folder / "expected.txt").unlink(missing_ok=True)
    return folder


def texts(folder: Path) -> Texts:
    report = Report()
    found = compared(folder, "es", report)
    report.refuse()
    assert found is not None
    return found


def told(folder: Path) -> str:
    try:
        found = texts(folder)
    except RuleSetError as error:
        return f"{error.format_message()}\n"
    return "".join(f"{each}\n" for each in (*wrong(found), *missing(found)))


@pytest.mark.parametrize("bad", BAD, ids=lambda path: path.name)
def test_findings_are_exactly_those_expected(bad: Path, tmp_path: Path) -> None:
    assert told(translated(tmp_path / "set", bad)) == (bad / "expected.txt").read_text("utf-8")


def test_a_whole_language_has_no_finding(tmp_path: Path) -> None:
    assert told(translated(tmp_path / "set")) == ""


def test_every_kind_of_text_of_the_supplied_set_is_listed_once() -> None:
    report = Report()
    found = english_texts(supplied_ruleset_folder(), report)
    assert not len(report)
    assert len({text.key for text in found}) == len(found)
    paths = {(text.file, ".".join(text.path)): text for text in found}
    assert paths["rules/20-film.yaml", "film-over-limit.because"].english[0].startswith("Typical")
    assert paths["facts/10-panel.yaml", "substrate.choices.steel.text"].english == ("Steel",)
    assert paths["facts/10-panel.yaml", "substrate.how"].field.form is Form.LINES
    assert paths["outcomes.yaml", "treatment.leave.title"].english == ("Leave",)
    assert paths["products.yaml", "products.epoxy-primer.parts.hardener"].english == ("hardener",)
    assert paths["cautions.yaml", "standing"].place.line > 1
    assert not paths["vocabulary.yaml", "panels.bonnet"].field.due


@pytest.mark.parametrize("folder", [HERE / "small_ruleset", supplied_ruleset_folder()])
def test_a_loaded_rule_set_has_the_same_texts_as_its_files(folder: Path) -> None:
    report = Report()
    of_files = {text.key: text.english for text in english_texts(folder, report) if text.due}
    loaded = loaded_texts(load_ruleset(folder, with_cases=False))
    assert {text.key: text.english for text in loaded if text.due} == of_files


@pytest.mark.parametrize("bad", BAD, ids=lambda path: path.name)
def test_the_check_of_a_rule_set_tells_of_its_languages(bad: Path, tmp_path: Path) -> None:
    folder = translated(tmp_path / "set", bad)
    found = list(language_findings(load_ruleset(folder, with_cases=False), folder))
    codes = set(re.findall(r"\[([a-z-]+)\]$", (bad / "expected.txt").read_text("utf-8"), re.M))
    assert {each.code for each in found} == codes
    assert all(each.place.file.startswith("languages/es/") for each in found)
    errors = [each for each in found if each.severity is Severity.ERROR]
    warned = {"text-missing", "text-stale", "text-misplaced"}
    assert {each.code for each in errors} == codes - warned


def test_a_shop_need_not_translate_what_is_supplied(tmp_path: Path) -> None:
    folder = tmp_path / "shop"
    shutil.copytree(HERE / "small_shop", folder)
    translated(folder / "supplied")
    own = folder / "languages" / "es"
    (own / "rules").mkdir(parents=True)
    (own / "language.yaml").write_text(
        "{prepwright: language/1, language: es, name: Español, checked: yes}", "utf-8"
    )
    (own / "rules" / "ours.yaml").write_text(
        'film-over-limit: {because: "Con {film.typical} pasa de {film.limit}."}\n'
        "nobodys-rule: {because: Nada.}\n",
        "utf-8",
    )
    found = [str(each) for each in language_findings(load_ruleset(folder), folder)]
    assert "rules/ours.yaml:2:25: the rule set has no rule `nobodys-rule`" in "\n".join(found)
    assert not any("film-over-limit" in each for each in found)
    missing = [each for each in found if "text-missing" in each]
    assert any("film-within-limit" in each for each in missing)


def test_the_supplied_spanish_is_whole() -> None:
    folder = supplied_ruleset_folder()
    assert list(language_findings(load_ruleset(folder, with_cases=False), folder)) == []
    assert not texts(folder).language.checked


def test_a_started_language_lacks_everything_and_has_nothing_wrong(tmp_path: Path) -> None:
    folder = translated(tmp_path / "set")
    report = Report()
    english = english_texts(folder, report)
    written = start_language(folder, "pt-BR", english)
    assert len(written) == len({text.file for text in english}) + 1
    assert start_language(folder, "pt-BR", english) == []
    found = compared(folder, "pt-BR", report)
    report.refuse()
    assert found is not None
    assert found.missing == found.due
    assert list(wrong(found)) == []
    assert languages_in(folder) == ["es", "pt-BR"]


@pytest.mark.parametrize("id", ["en", "spanish", "../es", ""])
def test_only_a_language_is_started(id: str, tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="names no language"):
        start_language(tmp_path, id, ())


def test_a_changed_english_text_makes_its_translation_stale_until_it_is_looked_at(
    tmp_path: Path,
) -> None:
    folder = translated(tmp_path / "set")
    assert note_fingerprints(folder, texts(folder)) == sum(1 for _ in texts(folder).said)
    assert told(folder) == ""
    rules = folder / "rules" / "car.yaml"
    rules.write_text(rules.read_text("utf-8").replace("It is not washed.", "It is dirty."), "utf-8")
    assert "text-stale" in told(folder)
    (key,) = [text.key for text in texts(folder).stale]
    language = texts(folder).language
    assert language.fresh(key, ("It is not washed.",)) == ("No está lavado.",)
    assert language.fresh(key, ("It is dirty.",)) is None
    # Translated anew it fits again, and so it does when somebody says that it still does.
    spanish = folder / "languages" / "es" / "rules" / "car.yaml"
    before = spanish.read_text("utf-8")
    spanish.write_text(before.replace("No está lavado", "Está sucio"), "utf-8")
    assert told(folder) == ""
    spanish.write_text(before, "utf-8")
    assert "text-stale" in told(folder)
    note_fingerprints(folder, texts(folder))
    assert told(folder) == ""


@pytest.mark.parametrize("part", LANGUAGE_PARTS, ids=lambda part: part.schema)
def test_schemas_of_languages_are_sound_and_described(part) -> None:
    schema = json.loads((schema_folder() / f"{part.schema}.schema.json").read_text("utf-8"))
    Draft202012Validator.check_schema(schema)
    assert [path for path, inner in properties(schema) if "description" not in inner] == []
    for folder in (HERE / "small_language", supplied_ruleset_folder()):
        for file in sorted((folder / "languages" / "es").glob(part.pattern)):
            assert shape_problems(read_document(file), part.schema) == []


def test_schemas_refuse_what_the_loader_refuses() -> None:
    refused = 0
    for bad in BAD:
        for part in LANGUAGE_PARTS:
            for file in sorted((bad / "languages" / "es").glob(part.pattern)):
                try:
                    refused += bool(shape_problems(read_document(file), part.schema))
                except DocumentError:
                    continue
    assert refused == 2
