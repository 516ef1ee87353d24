"""The same job in Spanish, as somebody runs it: decide, plan, next, why, report and the chat."""

from __future__ import annotations

import html
import json
import re
from pathlib import Path

import pytest
from conftest import Prepwright
from jsonschema import Draft202012Validator

from engine.supplied import demo_folder, schema_folder

ES = ("--language", "es")


def said(prepwright: Prepwright, *args: object, given: str = "", **environment: str) -> str:
    done = prepwright(*args, given=given.encode(), **environment)
    assert (done.returncode, done.stderr.decode()) == (0, "")
    return " ".join(done.stdout.decode().split())


def test_options_alone_are_those_of_the_chat(prepwright: Prepwright, tmp_path: Path) -> None:
    store = str(tmp_path / "shop.db")
    talked = said(
        prepwright,
        *ES,
        "--plain",
        given="BM-7\ntecho\neléctrico\nsí\nposittivo\nsí\nparar\n",
        PREPWRIGHT_STORE=store,
    )
    assert "¿Qué piezas hay que mirar?" in talked
    assert "¿Quiere decir Hay plomo?" in talked
    assert "Prueba de plomo de la pintura vieja: Hay plomo" in talked


def test_decide_in_spanish(prepwright: Prepwright, sample: Path) -> None:
    text = said(prepwright, "decide", sample, *ES)
    assert "Trabajo BM-7: todas las piezas están decididas" in text
    assert "bonnet: sand - Lijar y repintar" in text
    assert "Por qué" in text
    assert "Advertencias" in text
    assert "todavía no los ha revisado" in text
    assert "[en]" not in text


def test_the_language_of_the_environment(prepwright: Prepwright, sample: Path) -> None:
    assert "todas las piezas" in said(prepwright, "decide", sample, PREPWRIGHT_LANGUAGE="es")
    english = said(prepwright, "decide", sample, *("--language", "en"), PREPWRIGHT_LANGUAGE="es")
    assert english == said(prepwright, "decide", sample)


@pytest.mark.parametrize("command", ["decide", "plan"])
def test_json_has_other_texts_and_the_same_codes(
    prepwright: Prepwright, sample: Path, command: str
) -> None:
    here = json.loads(prepwright(command, sample, "--json").stdout)
    there = json.loads(prepwright(command, sample, "--json", *ES).stdout)
    assert (here["language"], there["language"]) == ("en", "es")
    schema = json.loads((schema_folder() / "decision.schema.json").read_text("utf-8"))
    Draft202012Validator(schema).validate(there)
    bonnet, capo = here["panels"]["bonnet"], there["panels"]["bonnet"]
    assert bonnet["treatment"] == capo["treatment"]
    assert [step["step"] for step in bonnet["steps"]] == [step["step"] for step in capo["steps"]]
    assert [why["rule"] for why in bonnet["because"]] == [why["rule"] for why in capo["because"]]
    assert bonnet["because"] != capo["because"]
    assert {name: fact["value"] for name, fact in bonnet["facts"].items()} == {
        name: fact["value"] for name, fact in capo["facts"].items()
    }
    assert here["ruleset"] == there["ruleset"]
    assert here["plan"]["tasks"].__len__() == there["plan"]["tasks"].__len__()


def test_a_language_nobody_supplied_is_refused(prepwright: Prepwright, sample: Path) -> None:
    done = prepwright("decide", sample, "--language", "fr")
    assert done.returncode == 2
    assert b"there is no language `fr` here. There are: en, es." in done.stderr


def test_plan_next_and_why_in_spanish(prepwright: Prepwright, sample: Path) -> None:
    plan = said(prepwright, "plan", sample, "--start", "2026-11-30", *ES)
    assert "Plan del trabajo BM-7" in plan
    assert "lunes 30 de noviembre de 2026" in plan
    assert "[en]" not in plan
    assert "se puede hacer ahora" in said(prepwright, "next", sample, *ES)
    why = said(prepwright, "why", sample, "bonnet", *ES)
    assert "BM-7, bonnet: sand: Lijar y repintar" in why
    assert "Material: acero" in said(prepwright, "why", sample, "bonnet", "--fact", "material", *ES)
    not_stripped = said(prepwright, "why", sample, "bonnet", "--not", "strip", *ES)
    assert "por qué no decapar hasta el soporte" in not_stripped


@pytest.mark.parametrize(
    ("reader", "heading"),
    [
        ("shop", "Decisión y plan para el taller"),
        ("customer", "Lo que se hará en su vehículo"),
        ("crew", "Hoja de trabajo para el equipo"),
    ],
)
def test_report_in_spanish(
    prepwright: Prepwright, tmp_path: Path, reader: str, heading: str
) -> None:
    page, job = tmp_path / "page.html", demo_folder() / "bookmobile.yaml"
    done = prepwright("report", job, "--html", page, "--for", reader, *ES)
    assert done.returncode == 0
    text = page.read_text("utf-8")
    assert '<html lang="es">' in text
    bare = re.sub(r"<style.*?</style>", "", text, flags=re.DOTALL)
    plain = " ".join(html.unescape(re.sub(r"<[^>]+>", " ", bare)).split())
    assert heading in plain
    assert "Lado derecho" in plain
    assert "[en]" not in plain
    for english in ("Panel by panel", "Main reason", "Cautions", "Calendar", "What may change"):
        assert not re.search(rf"\b{english}\b", plain)


def test_the_chat_takes_spanish_words_and_records_in_english(
    prepwright: Prepwright, tmp_path: Path
) -> None:
    store = tmp_path / "shop.db"
    answers = "\n".join(["capó", "no sé", "ayuda", "atrás", "combustión", "por qué", "terminar"])
    text = said(
        prepwright, "chat", "furgo", *ES, "--one-engine", given=answers, PREPWRIGHT_STORE=str(store)
    )
    assert "¿Qué piezas hay que mirar?" in text
    assert "¿El vehículo lleva motor de combustión, híbrido o eléctrico?" in text
    assert "Retirado: Propulsión: no sé" in text
    assert "Propulsión: Motor de combustión" in text
    assert "Trabajo furgo: 1 de 1 pieza por decidir" in text
    exported = tmp_path / "record.json"
    assert prepwright("trail", "export", exported, PREPWRIGHT_STORE=str(store)).returncode == 0
    kept = exported.read_text("utf-8")
    assert "combustion" in kept
    assert "No consta que esté lavado" not in kept
    replayed = said(prepwright, "trail", "replay", "furgo", PREPWRIGHT_STORE=str(store))
    assert "1 decision: 1 the same again" in replayed


def test_recorded_reasons_are_put_into_spanish_where_the_rules_are_the_same(
    prepwright: Prepwright, sample: Path, tmp_path: Path
) -> None:
    store = str(tmp_path / "shop.db")
    said(prepwright, "decide", sample, "--save", *ES, PREPWRIGHT_STORE=store)
    recorded = ("why", "BM-7", "bonnet", "--recorded")
    english = said(prepwright, *recorded, PREPWRIGHT_STORE=store)
    assert "as recorded" in english
    assert "Typical film" in english
    spanish = said(prepwright, *recorded, *ES, PREPWRIGHT_STORE=store)
    assert "como se registró" in spanish
    assert "La película típica" in spanish
    # Under other rules the words of that day stand.
    shop = tmp_path / "north-yard"
    assert prepwright("rules", "new-shop", shop).returncode == 0
    other = said(prepwright, *recorded, *ES, "--ruleset", shop, PREPWRIGHT_STORE=store)
    assert "Typical film" in other
