"""A rule set in another language: other texts, the same rules, nothing stale or broken shown."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from test_ruleset_texts import texts, translated

from engine.answers import read_answer
from engine.decision import Decision
from engine.document import parse_document
from engine.errors import RuleSetError, UsageError
from engine.facts import JobFacts
from engine.jobfile import parse_job, read_job
from engine.quantity import Kind, parse_quantity, show
from engine.reasoning.decide import decide
from engine.reasoning.evaluate import evaluate
from engine.reasoning.explain import Explainer
from engine.reasoning.program import compile_ruleset
from engine.ruleset import RuleSet, load_ruleset
from engine.ruleset.language_folder import note_fingerprints
from engine.ruleset.speaking import in_language, known_languages
from engine.supplied import demo_folder, supplied_ruleset_folder
from engine.trail import Store, opening
from engine.trail.deciding import decide_again, record_decision
from engine.words import Tongue, counted, say, speaking, spoken
from tests.unit.trail_sample import SetClock, keep_ruleset

HERE = Path(__file__).parent

JOB = """
prepwright: job/1
job: BM-7
shop: {air-temperature: 21 degC}
car: {year: 1996, topcoat: base-and-clear, washed: no}
panels:
  roof: {substrate: steel}
  bonnet:
    substrate: steel
    defects: [none]
    film: {gauge: magnetic, readings: [14.2 mil, 14.4 mil]}
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return translated(tmp_path / "set")


def spanish(folder: Path) -> RuleSet:
    return in_language(load_ruleset(folder), folder, "es")


def job(ruleset: RuleSet) -> JobFacts:
    return parse_job(parse_document(JOB, "job"), ruleset)


def because(decision: Decision, panel: str = "bonnet") -> str:
    return decision.panels[panel].because[0].text


def put(folder: Path, name: str, old: str, new: str) -> None:
    file = folder / name
    before = file.read_text("utf-8")
    assert old in before
    file.write_text(before.replace(old, new), "utf-8")


def test_every_text_is_the_one_of_the_language(folder: Path) -> None:
    rules = spanish(folder)
    assert rules.title == "Un juego pequeño"
    assert rules.facts["substrate"].title == "Material"
    assert rules.facts["substrate"].ask == "¿De qué es {panel}?"
    assert rules.facts["substrate"].how == ("Acerque un imán.",)
    assert [each.text for each in rules.facts["substrate"].choices] == [
        "Acero", "Aluminio", "Plástico",
    ]  # fmt: skip
    refusal = rules.facts["film.readings"].refusal
    assert refusal is not None
    assert refusal.because == "Un medidor magnético no lee sobre {substrate}."
    assert rules.limits["film.limit"].note == "la película que lo supera se rebaja"
    assert rules.treatments["strip"].title == "Decapar"
    assert rules.holds["wash"].release == "Anote quién lo lavó."
    assert rules.cautions["dust"].text == "Recoja el polvo donde se produce."
    assert rules.standing_caution.startswith("Estas advertencias")
    assert rules.steps["wash-car"].text == "Agua y jabón."
    assert rules.products["primer"].title == "Imprimación epoxi"
    assert rules.systems["single-stage"].title == "Monocapa"
    assert rules.gear["mitts"].title == "Manoplas"
    assert rules.tables["grades"].title == "Granos"


def test_the_rules_are_the_same_and_so_is_what_they_conclude(folder: Path) -> None:
    english = load_ruleset(folder)
    rules = spanish(folder)
    assert rules.digest == english.digest
    assert rules.tongue is not None
    assert spoken() is None
    here, there = decide(english, job(english)), decide(rules, job(rules))
    assert because(here) == "Typical film 363.2 um is over 304.8 um."
    assert because(there) == "La película típica, 363,2 um, pasa de 304,8 um."
    assert without_texts(here.as_json()) == without_texts(there.as_json())


def without_texts(value: object) -> object:
    if isinstance(value, dict):
        texts = ("text", "title", "because", "release", "ask", "how", "why", "standing_caution")
        return {
            key: without_texts(item)
            for key, item in value.items()
            if key not in texts or (isinstance(item, list) and key == "because")
        }
    return [without_texts(item) for item in value] if isinstance(value, list) else value


def test_the_supplied_rules_conclude_the_same_in_spanish() -> None:
    folder = supplied_ruleset_folder()
    english = load_ruleset(folder, with_cases=False)
    rules = in_language(english, folder, "es")
    facts = read_job(demo_folder() / "bookmobile.yaml", english)
    here, there = decide(english, facts), decide(rules, facts)
    assert without_texts(here.as_json()) == without_texts(there.as_json())
    assert here.as_json() != there.as_json()
    assert decide(english, facts).as_json() == here.as_json()


def test_words_add_to_the_english_ones(folder: Path) -> None:
    spec = spanish(folder).facts["substrate"]
    for word in ("steel", "Steel", "sheet steel", "Acero", "chapa"):
        assert read_answer(spec, word).value == "steel"
    topcoat = spanish(folder).facts["car.topcoat"]
    assert read_answer(topcoat, "bicapa").value == "base-and-clear"
    assert "limpio" in spanish(folder).facts["car.washed"].words
    assert "Washed" in spanish(folder).facts["car.washed"].words


def test_what_is_missing_is_english_behind_a_mark(folder: Path) -> None:
    put(folder, "languages/es/rules/film.yaml", "film-over-limit: {because:", "#")
    put(folder, "languages/es/facts/panel.yaml", "text: Acero, ", "")
    rules = spanish(folder)
    assert because(decide(rules, job(rules))) == "[en] Typical film 363,2 um is over 304,8 um."
    assert rules.facts["substrate"].choices[0].text == "[en] Steel"


def test_a_text_that_lost_a_placeholder_is_not_shown(folder: Path) -> None:
    put(folder, "languages/es/rules/film.yaml", "{film.typical}", "mucha")
    rules = spanish(folder)
    assert because(decide(rules, job(rules))).startswith("[en] Typical film")


def test_a_stale_text_is_not_shown(folder: Path) -> None:
    note_fingerprints(folder, texts(folder))
    put(folder, "rules/film.yaml", "is over {film.limit}", "passes {film.limit}")
    rules = spanish(folder)
    assert because(decide(rules, job(rules))) == "[en] Typical film 363,2 um passes 304,8 um."


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    folder = tmp_path / "shop"
    shutil.copytree(HERE / "small_shop", folder)
    translated(folder / "supplied")
    return folder


def test_what_a_shop_replaced_does_not_show_the_supplied_translation(shop: Path) -> None:
    rules = spanish(shop)
    assert rules.rules["film-over-limit"].because.startswith("La película típica")
    assert (
        rules.rules["film-within-limit"].because
        == "[en] Film {film.typical} is within {film.limit}."
    )


def test_a_shop_translates_its_own_parts_and_may_word_supplied_ones_otherwise(shop: Path) -> None:
    own = shop / "languages" / "es"
    (own / "rules").mkdir(parents=True)
    (own / "language.yaml").write_text(
        "{prepwright: language/1, language: es, name: Español, checked: yes}", "utf-8"
    )
    (own / "rules" / "ours.yaml").write_text(
        'film-within-limit: {because: "{film.typical} cabe en {film.limit}."}\n'
        "not-washed: {because: Está sucio.}\n",
        "utf-8",
    )
    rules = spanish(shop)
    assert rules.rules["film-within-limit"].because == "{film.typical} cabe en {film.limit}."
    assert rules.rules["not-washed"].because == "Está sucio."
    assert rules.rules["film-over-limit"].because.startswith("La película típica")
    assert rules.digest == load_ruleset(shop).digest


def test_an_unknown_language_is_refused_with_those_there_are(folder: Path) -> None:
    rules = load_ruleset(folder)
    assert known_languages(rules, folder) == ["en", "es"]
    with pytest.raises(UsageError, match=r"no language `fr` here. There are: en, es\."):
        in_language(rules, folder, "fr")
    assert in_language(rules, folder, "en") is rules


def test_a_language_whose_files_are_wrong_is_refused(folder: Path) -> None:
    put(folder, "languages/es/rules/film.yaml", "because", "becuase")
    with pytest.raises(RuleSetError, match=r"film.yaml:1:19: unknown key `becuase`"):
        spanish(folder)


def test_the_record_is_english_and_replays_the_same(folder: Path, tmp_path: Path) -> None:
    with Store.open(tmp_path / "shop.db", clock=SetClock()) as store:
        english = keep_ruleset(store, folder, "Kim")
        rules = in_language(english, folder, "es")
        facts = job(rules)
        store.append(opening(facts, "Kim"))
        entry = record_decision(store, rules, facts, decide(rules, facts), "Kim")
        outcome = entry.payload["outcome"]
        assert outcome == decide(english, facts).as_json()
        again = decide_again(english, entry.payload)
        assert again["outcome"] == outcome
        # The files of languages are no part of what is kept.
        kept = store.connection.execute("SELECT DISTINCT path FROM ruleset_files").fetchall()
        assert not [path for (path,) in kept if path.startswith("languages")]


def test_explanations_are_in_the_language(folder: Path) -> None:
    rules = spanish(folder)
    explainer = Explainer(evaluate(compile_ruleset(rules), job(rules)))
    with speaking(
        Tongue("es", {"not known": "no se sabe", "{fact} above {limit}": "{fact} sobre {limit}"})
    ):
        lines = [reason.text for _, reason in explainer.treatment("roof").walk()]
    assert "película típica sobre 304.8 um" in lines
    assert "Material: acero" in [
        reason.text for _, reason in explainer.fact("substrate", "roof").walk()
    ]


def test_numbers_are_written_with_a_comma_and_read_back() -> None:
    amount = parse_quantity("13.1 mil", Kind.THICKNESS).amount
    with speaking(Tongue("es", comma=True)):
        assert show(amount, Kind.THICKNESS, "mil") == "13,1 mil"
        assert parse_quantity("13,1 mil", Kind.THICKNESS).amount == amount
    assert show(amount, Kind.THICKNESS, "mil") == "13.1 mil"


def test_sentences_and_nouns_of_a_language() -> None:
    tongue = Tongue("es", {"Not {what}": "Nada de {what}"}, {"panel": ("panel", "paneles")})
    assert (say("Not {what}", what="{x}"), counted(2, "panel")) == ("Not {x}", "2 panels")
    with speaking(tongue):
        assert say("Not {what}", what="{x}") == "Nada de {x}"
        assert say("Never said") == "Never said"
        assert (counted(1, "panel"), counted(3, "panel")) == ("1 panel", "3 paneles")
