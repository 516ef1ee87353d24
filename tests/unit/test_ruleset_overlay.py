"""A shop's changes over a supplied set: what becomes of them, and that they are told as such."""

from __future__ import annotations

import shutil
from fractions import Fraction
from pathlib import Path

import pytest

from engine.facts import JobFacts, Told
from engine.reasoning.decide import decide
from engine.reasoning.evaluate import evaluate
from engine.reasoning.explain import Explainer
from engine.reasoning.program import compile_ruleset
from engine.ruleset import RuleSet, load_ruleset
from engine.ruleset.digest import digest_of
from engine.ruleset.run_cases import run_cases
from engine.ruleset.shop_files import ruleset_files
from engine.ruleset.source import SourceKind
from engine.supplied import supplied_ruleset_folder
from tests.unit.trail_sample import keep_ruleset

HERE = Path(__file__).parent
SMALL = HERE / "small_ruleset"

MIL = Fraction(254, 10)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("shops") / "shop"
    shutil.copytree(HERE / "small_shop", folder)
    shutil.copytree(SMALL, folder / "supplied")
    return folder


@pytest.fixture(scope="module")
def shop(folder: Path) -> RuleSet:
    return load_ruleset(folder)


def job(film: int | Fraction, **panel: str | Fraction) -> JobFacts:
    readings = ((Fraction(film) * MIL,),)
    sheet = {
        "substrate": Told("steel", "steel"),
        "film.readings": Told(readings, ""),
        "defects": Told(frozenset({"none"}), "none"),
        **{fact.replace("_", "-"): Told(value, "") for fact, value in panel.items()},
    }
    return JobFacts("BM-7", {}, {"car.washed": Told("yes", "yes")}, {"bonnet": sheet})


def test_a_changed_limit_keeps_what_the_supplied_set_says(shop: RuleSet) -> None:
    limit = shop.limits["film.limit"]
    assert limit.amount == 11 * MIL
    assert limit.note == "film above this comes down"
    assert limit.source.kind is SourceKind.SHOP
    change = limit.shop
    assert change is not None
    assert (change.by, change.on, change.supplied) == ("the shop lead", "2026-03-01", "12 mil")
    assert change.why.startswith("Two panels")
    assert str(change.place) == "limits.yaml:1:1"


def test_a_changed_limit_stays_the_kind_it_is(shop: RuleSet) -> None:
    margin = shop.limits["air.margin"]
    assert margin.kind == "temperature-difference"
    assert margin.amount == 4
    assert margin.note == "The yard stands by the river."


def test_limits_that_are_not_named_stay(shop: RuleSet) -> None:
    assert shop.limits["air.coldest"].shop is None
    assert shop.limits["air.coldest"].place.file == "supplied/limits.yaml"


def test_a_replaced_rule_stands_where_the_supplied_one_stood(shop: RuleSet) -> None:
    assert list(shop.rules) == [
        "not-washed",
        "film-over-limit",
        "film-within-limit",
        "not-refinished",
        "rusty-panel-stripped",
    ]
    rule = shop.rules["film-within-limit"]
    assert rule.then.steps == ("sand-panel", "mask-rubber")
    assert rule.shop is not None
    assert rule.shop.replaces == "film-within-limit"


def test_a_source_of_its_own_is_kept(shop: RuleSet) -> None:
    source = shop.rules["rusty-panel-stripped"].source
    assert str(source) == "The yard's own handbook"


def test_without_a_source_a_change_is_its_own(shop: RuleSet) -> None:
    assert str(shop.rules["film-within-limit"].source) == (
        "this shop's own rule: the shop lead 2026-03-01, We do not trust paint that shows anything."
    )


def test_facts_steps_products_texts_and_hours_are_added_or_replaced(shop: RuleSet) -> None:
    assert shop.facts["rust-patch"].ask == "How much of {panel} is rusty?"
    assert shop.facts["dents"].ask == "How many dents larger than a coin?"
    assert {"mask-rubber", "wash-car"} <= set(shop.steps)
    assert "zinc-primer" in shop.products
    assert shop.cautions["wire"].text == "Wear goggles."
    assert shop.holds["seals"].release == "Name who looked at them."
    assert shop.labour is not None
    assert (shop.labour.people, shop.labour.example) == (3, False)
    assert "mitts" in shop.gear


def test_every_change_is_kept_with_who_when_and_why(shop: RuleSet) -> None:
    assert shop.shop is not None
    told = {(change.what, change.id): change for change in shop.shop.changes}
    assert set(told) == {
        ("limit", "film.limit"),
        ("limit", "air.margin"),
        ("limit", "rust.patch"),
        ("rule", "film-within-limit"),
        ("rule", "rusty-panel-stripped"),
        ("rule", "strip-work"),
        ("case", "unknown film stays open"),
        ("fact", "rust-patch"),
        ("fact", "dents"),
        ("step", "mask-rubber"),
        ("product", "zinc-primer"),
        ("caution", "wire"),
        ("hold", "seals"),
        ("labour", "labour"),
    }
    assert all(change.by and change.on and change.why for change in told.values())
    assert told["rule", "strip-work"].retired
    assert told["fact", "dents"].replaces == "dents"
    assert told["fact", "rust-patch"].replaces is None


def test_name_and_version_tell_what_is_built_on(shop: RuleSet) -> None:
    assert (shop.name, shop.version) == ("north-yard", "3 on small 1")
    assert shop.title == "The rules of the north yard"
    assert shop.shown_by_default == "us"


def test_the_digest_covers_both_sets(folder: Path, shop: RuleSet, tmp_path: Path) -> None:
    assert shop.shop is not None
    assert shop.shop.supplied_digest == load_ruleset(SMALL).digest
    for changed in ("limits.yaml", "supplied/limits.yaml", "cases/own.yaml"):
        other = tmp_path / changed.replace("/", "-")
        shutil.copytree(folder, other)
        with (other / changed).open("a", encoding="utf-8") as file:
            file.write("\n")
        assert load_ruleset(other).digest != shop.digest


def test_its_files_written_elsewhere_are_the_same_rule_set(
    folder: Path, shop: RuleSet, tmp_path: Path
) -> None:
    files = ruleset_files(folder)
    assert digest_of(files) == shop.digest
    for name, raw in files.items():
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_bytes(raw)
    assert load_ruleset(tmp_path).digest == shop.digest


def test_built_on_the_installed_set_and_on_a_copy_of_it_are_the_same(tmp_path: Path) -> None:
    for name in ("beside", "below"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "shop.yaml").write_text(
            "prepwright: shop/1\nname: north-yard\nbuilds-on: refinish\n", "utf-8"
        )
    shutil.copytree(supplied_ruleset_folder(), tmp_path / "below" / "supplied")
    beside, below = (
        load_ruleset(tmp_path / name, with_cases=False) for name in ("beside", "below")
    )
    assert beside.digest == below.digest
    assert beside.rules == below.rules


# --- in a decision ------------------------------------------------------------------------------


def test_the_explanation_shows_the_shop_limit_beside_the_supplied_one(shop: RuleSet) -> None:
    panel = decide(shop, job(Fraction(23, 2))).panels["bonnet"]
    assert panel.treatment == "strip"
    (why,) = panel.because
    assert why.text == "Typical film 11.5 mil is over 11 mil (shop limit, supplied 12 mil)."


def test_why_not_shows_it_too(shop: RuleSet) -> None:
    panel = decide(shop, job(5, rust_patch=Fraction(0))).panels["bonnet"]
    told = {other.treatment: other.why for other in panel.instead_of}
    assert "typical film above 11 mil (shop limit, supplied 12 mil)" in told["strip"]


def test_the_explanation_names_a_shop_rule_and_who_set_it(shop: RuleSet) -> None:
    (why,) = decide(shop, job(5, rust_patch=Fraction(0))).panels["bonnet"].because
    assert why.text == (
        "Film 5 mil is within 11 mil (shop limit, supplied 12 mil). (Shop rule by the shop lead, "
        "2026-03-01, in place of the supplied film-within-limit: We do not trust paint that "
        "shows anything.)"
    )


def test_a_limit_of_the_shops_own_is_told_as_such(shop: RuleSet) -> None:
    (why,) = decide(shop, job(5, rust_patch=Fraction(8))).panels["bonnet"].because
    assert why.text.startswith("8 % is rusty, over 5 % (shop limit). (Shop rule by the painter,")


def test_the_tree_says_who_set_the_limit(shop: RuleSet) -> None:
    evaluation = evaluate(compile_ruleset(shop), job(12))
    tests = [
        reason
        for _, reason in Explainer(evaluation).treatment("bonnet").walk()
        if reason.name == "film.limit"
    ]
    assert tests
    assert "the shop lead 2026-03-01" in str(tests[0].source)


def test_a_retired_rule_is_gone(shop: RuleSet) -> None:
    decision = decide(shop, job(12))
    assert not decision.car.cautions
    assert "strip-work" not in shop.rules


def test_the_shops_cases_run_on_the_bases_of_the_supplied_set(shop: RuleSet) -> None:
    results = run_cases(shop)
    assert [result.failures for result in results] == [()] * 3
    assert [result.case.file for result in results] == [
        "supplied/cases/film.yaml",
        "cases/own.yaml",
        "cases/own.yaml",
    ]


# --- names that move ----------------------------------------------------------------------------


def over_small(tmp_path: Path, **files: str) -> RuleSet:
    folder = tmp_path / "shop"
    shutil.copytree(SMALL, folder / "supplied")
    (folder / "rules").mkdir()
    head = "prepwright: shop/1\nname: own\nbuilds-on: small\n"
    (folder / "shop.yaml").write_text(head, "utf-8")
    for name, text in files.items():
        (folder / f"{name.replace('__', '/')}.yaml").write_text(text, "utf-8")
    return load_ruleset(folder)


def test_cases_and_beats_follow_a_rule_that_is_renamed(tmp_path: Path) -> None:
    ruleset = over_small(
        tmp_path,
        rules__own="""\
- rule: thick-film
  replaces: film-over-limit
  about: panel
  when: {film.typical: {above: $film.limit}}
  then: {treatment: strip, conclude: {panel.bares-metal: yes}}
  because: Thick.
  by: a
  on: 2026-03-01
  why: b
""",
    )
    assert list(ruleset.rules)[2] == "thick-film"
    assert [case.fires for case in ruleset.cases] == [("thick-film",), ()]
    assert [case.open for case in ruleset.cases] == [(), ("thick-film", "film-within-limit")]


def test_what_names_a_retired_rule_no_longer_does(tmp_path: Path) -> None:
    ruleset = over_small(
        tmp_path, retired="rules:\n  film-over-limit: {by: a, on: 2026-03-01, why: b}\n"
    )
    assert [case.fires for case in ruleset.cases] == [(), ()]
    # Nothing concludes it any more, which the shop chose and a check tells.
    assert ruleset.facts["panel.bares-metal"].otherwise == "no"


def test_the_record_keeps_a_shops_rules_with_the_supplied_set_below_them(
    folder: Path, shop: RuleSet, tmp_path: Path
) -> None:
    """What is kept decides the same even where the installed supplied set has changed since."""
    from engine.trail.rulesets import kept_ruleset
    from engine.trail.store import Store

    with Store.open(tmp_path / "shop.sqlite") as store:
        kept = keep_ruleset(store, folder, "the shop lead")
        again = kept_ruleset(store, kept.digest)
    assert again.digest == kept.digest == shop.digest
    first, second = (
        decide(ruleset, job(Fraction(23, 2)), ask=False).as_json() for ruleset in (kept, again)
    )
    assert first == second


REST = """rest: supplied
rate: 65 USD
hours: {mon: [], sat: [08:00..12:00]}
times: {wash-car: {fixed: 25 min}}
by: the shop lead
on: 2026-03-01
why: Our own rate.
"""


def in_part(tmp_path: Path, text: str) -> RuleSet:
    folder = tmp_path / "shop"
    folder.mkdir()
    (folder / "shop.yaml").write_text("prepwright: shop/1\nname: yard\nbuilds-on: refinish\n")
    (folder / "labour.yaml").write_text(text, "utf-8")
    return load_ruleset(folder, with_cases=False)


def test_labour_may_be_changed_in_part(tmp_path: Path) -> None:
    supplied = load_ruleset(supplied_ruleset_folder(), with_cases=False).labour
    ruleset = in_part(tmp_path, REST)
    labour = ruleset.labour
    assert supplied is not None
    assert labour is not None
    assert (labour.rate, labour.currency) == (65, "USD")
    assert (labour.people, labour.booths, labour.example) == (supplied.people, 1, True)
    assert labour.week[0] == ()
    assert labour.week[1:5] == supplied.week[1:5]
    assert [(each.start, each.end) for each in labour.week[5]] == [(480, 720)]
    assert labour.times["wash-car"] != supplied.times["wash-car"]
    others = {step: rates for step, rates in labour.times.items() if step != "wash-car"}
    assert others == {step: supplied.times[step] for step in others}
    assert labour.times.keys() == supplied.times.keys()
    assert ruleset.shop is not None
    (change,) = ruleset.shop.changes
    assert (change.what, change.by, change.why) == ("labour", "the shop lead", "Our own rate.")


def test_of_labour_changed_in_part_only_that_part_is_watched(tmp_path: Path) -> None:
    shop = in_part(tmp_path, REST).shop
    assert shop is not None
    (touched,) = shop.touched
    assert touched.now is not None
    assert set(touched.now) == {"hours", "times"}
    assert set(touched.now["times"]) == {"wash-car"}


def test_a_whole_labour_file_takes_the_place_of_the_supplied_one(tmp_path: Path) -> None:
    text = (HERE / "small_shop" / "labour.yaml").read_text("utf-8").replace("mask-rubber", "polish")
    labour = in_part(tmp_path, text).labour
    assert labour is not None
    assert labour.times.keys() == {"wash-car", "polish"}
