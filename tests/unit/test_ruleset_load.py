"""What a good rule set becomes when it is loaded."""

from __future__ import annotations

import hashlib
import shutil
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import pytest

from engine import supplied
from engine.errors import RuleSetError, UsageError
from engine.quantity import Kind
from engine.ruleset import FactKind, RuleSet, load_ruleset, model
from engine.ruleset.digest import digest_of
from engine.ruleset.model import About, All, Any, Leaf, Not
from engine.ruleset.source import SourceKind

SMALL = Path(__file__).parent / "small_ruleset"

MIL = Fraction(254, 10)
"""One thousandth of the international inch, 25.4 mm by definition, in um (NIST SP 811)."""


@pytest.fixture(scope="module")
def small() -> RuleSet:
    return load_ruleset(SMALL)


def test_head(small: RuleSet) -> None:
    assert (small.name, small.version, small.shown_by_default) == ("small", "1", "eu")
    assert small.shown_units["us"] == {Kind.THICKNESS: "mil", Kind.TEMPERATURE: "degF"}
    assert small.standing_caution.startswith("These cautions point")


def test_limits_are_exact_and_keep_how_they_were_written(small: RuleSet) -> None:
    limit = small.limits["film.limit"]
    assert (limit.amount, limit.kind) == (12 * MIL, Kind.THICKNESS)
    assert (limit.written, limit.unit) == ("12 mil", "mil")
    assert limit.source.kind is SourceKind.COMMON_PRACTICE
    assert (limit.place.file, limit.place.line, limit.place.column) == ("limits.yaml", 1, 1)


def test_a_degree_is_a_temperature_unless_the_limit_says_otherwise(small: RuleSet) -> None:
    assert small.limits["air.coldest"].kind is Kind.TEMPERATURE
    assert small.limits["air.margin"].kind is Kind.TEMPERATURE_DIFFERENCE
    assert small.limits["air.margin"].amount == 3


def test_told_fact(small: RuleSet) -> None:
    fact = small.facts["film.readings"]
    assert (fact.kind, fact.quantity, fact.about) == (FactKind.LIST, Kind.THICKNESS, About.PANEL)
    assert fact.plausible == (0, 2500)
    assert fact.told
    assert fact.alongside == ("film.gauge",)
    gate = fact.ask_when
    assert isinstance(gate, Leaf)
    assert (gate.fact, gate.operand) == ("substrate", frozenset({"steel", "aluminium"}))
    assert fact.refusal is not None
    assert isinstance(fact.refusal.when, All)
    assert "{substrate}" in fact.refusal.because


def test_choices(small: RuleSet) -> None:
    assert small.facts["substrate"].choice_ids == ("steel", "aluminium", "plastic")
    assert small.facts["substrate"].choices[1].also == ("alloy",)
    assert small.facts["defects"].alone == "none"
    assert small.facts["film.gauge"].not_yet == {"not-read"}
    assert small.facts["car.washed"].choice_ids == ("no", "yes")


def test_facts_that_nobody_tells(small: RuleSet) -> None:
    assert small.facts["film.typical"].reckoned == "film.typical"
    assert small.facts["panel.bares-metal"].otherwise == "no"
    gathered = small.facts["car.any-stripped"].gathered
    assert gathered is not None
    assert gathered.quantifier == "any"
    assert isinstance(gathered.condition, Leaf)
    assert (gathered.condition.fact, gathered.condition.operand) == (
        "treatment",
        frozenset({"strip"}),
    )
    for name in ("film.typical", "panel.bares-metal", "car.any-stripped"):
        assert not small.facts[name].told


def test_rule_with_a_limit(small: RuleSet) -> None:
    rule = small.rules["film-over-limit"]
    assert isinstance(rule.when, Leaf)
    assert (rule.when.test, rule.when.operand) == (model.Test.ABOVE, 12 * MIL)
    assert rule.when.limit == "film.limit"
    assert rule.then.treatment == "strip"
    assert rule.then.conclude == (("panel.bares-metal", "yes"),)
    assert rule.topic == "film"
    assert (rule.place.file, rule.place.line) == ("rules/film.yaml", 1)


def test_groups(small: RuleSet) -> None:
    condition = small.rules["film-within-limit"].when
    assert isinstance(condition, All)
    film, either = condition.parts
    assert isinstance(film, Leaf)
    assert film.test is model.Test.AT_MOST
    assert isinstance(either, Any)
    defects, other = either.parts
    assert isinstance(defects, Leaf)
    assert (defects.test, defects.operand) == (model.Test.INCLUDES, frozenset({"none"}))
    assert isinstance(other, Not)
    assert isinstance(other.part, Leaf)
    assert other.part.fact == "substrate"
    assert (defects.place.line, defects.place.column) == (12, 20)


def test_between_takes_in_both_ends_and_knows_its_limit(small: RuleSet) -> None:
    condition = small.rules["strip-work"].when
    assert isinstance(condition, All)
    between = condition.parts[1]
    assert isinstance(between, All)
    low, high = between.parts
    assert isinstance(low, Leaf)
    assert isinstance(high, Leaf)
    assert (low.test, low.operand, low.limit) == (model.Test.AT_LEAST, 10, "air.coldest")
    assert (high.test, high.operand, high.limit) == (model.Test.AT_MOST, 35, None)


def test_outcomes_keep_their_order(small: RuleSet) -> None:
    assert [(each.id, each.depth) for each in small.treatments.values()] == [
        ("leave", 0),
        ("sand", 1),
        ("strip", 2),
    ]
    assert small.rules["not-refinished"].beats_all
    assert small.rules["not-washed"].applies_while_open
    assert small.rules["film-within-limit"].then.steps == ("sand-panel",)


def test_systems_and_tables(small: RuleSet) -> None:
    coats = small.systems["single-stage"].coats["if-stripped"]
    assert [(coat.product, coat.film) for coat in coats] == [
        ("primer", Fraction(3, 2) * MIL),
        ("paint", 2 * MIL),
    ]
    rows = small.tables["grades"].rows
    assert rows == (("P80", 201), ("P240", Fraction(585, 10)), ("P0", None))
    assert isinstance(rows[1][1], Fraction)


def test_cases_are_merged_with_their_base(small: RuleSet) -> None:
    thick, unknown = small.cases
    assert thick.panel["film.readings"] == ["12.1 mil"]
    assert thick.panel["substrate"] == "steel"
    assert thick.car == {"car.year": 1996, "car.washed": "yes"}
    assert "film.readings" not in unknown.panel
    assert unknown.open == ("film-over-limit", "film-within-limit")
    assert unknown.expect == {"treatment": "open"}


def test_cases_can_be_left_unread_without_changing_the_digest(small: RuleSet) -> None:
    quick = load_ruleset(SMALL, with_cases=False)
    assert quick.cases == ()
    assert quick.digest == small.digest


def test_number_before_a_file_name_is_no_part_of_the_topic(tmp_path: Path) -> None:
    folder = tmp_path / "set"
    shutil.copytree(SMALL, folder)
    (folder / "rules" / "film.yaml").rename(folder / "rules" / "20-film.yaml")
    assert load_ruleset(folder).rules["film-over-limit"].topic == "film"


# --- the digest -------------------------------------------------------------------------------


def test_digest_is_sha256_over_lengths_paths_and_bytes(small: RuleSet) -> None:
    pieces = b""
    for path in sorted(SMALL.rglob("*.yaml"), key=lambda file: file.relative_to(SMALL).as_posix()):
        for part in (path.relative_to(SMALL).as_posix().encode(), path.read_bytes()):
            pieces += len(part).to_bytes(8, "big") + part
    assert small.digest == f"sha256:{hashlib.sha256(pieces).hexdigest()}"


def test_digest_knows_where_a_path_ends_and_its_bytes_begin() -> None:
    assert digest_of({"a": b"bc"}) != digest_of({"ab": b"c"})
    assert digest_of({"a": b"1", "b": b"2"}) == digest_of({"b": b"2", "a": b"1"})
    assert digest_of({"a": b"1", "b": b"2"}) != digest_of({"a": b"1b2"})


def test_digest_changes_with_any_file(tmp_path: Path, small: RuleSet) -> None:
    folder = tmp_path / "set"
    shutil.copytree(SMALL, folder)
    assert load_ruleset(folder).digest == small.digest
    with (folder / "limits.yaml").open("a", encoding="utf-8") as file:
        file.write("# a remark\n")
    assert load_ruleset(folder).digest != small.digest


# --- reckoners --------------------------------------------------------------------------------


@dataclass(frozen=True)
class Inputs:
    reads: tuple[str, ...] = ()
    limits: tuple[str, ...] = ()
    tables: tuple[str, ...] = ()
    systems: bool = False
    also: tuple[str, ...] = ()
    panels: tuple[str, ...] = ()


def test_reckoners_may_be_given() -> None:
    given = {"film.typical": Inputs(("film.readings",), ("film.limit",), ("grades",))}
    assert load_ruleset(SMALL, reckoners=given).facts["film.typical"].reckoned == "film.typical"


def test_reckoning_lacks_a_table() -> None:
    given = {"film.typical": Inputs(tables=("grade",))}
    with pytest.raises(RuleSetError, match="needs the table `grade`") as refused:
        load_ruleset(SMALL, reckoners=given)
    assert [problem.code for problem in refused.value.problems] == ["reckoning-lacks-table"]
    assert refused.value.problems[0].fix == "Did you mean `grades`?"


def test_circle_through_a_reckoning_of_the_treatment() -> None:
    given = {"film.typical": Inputs(("treatment",))}
    with pytest.raises(RuleSetError, match=r"`film.typical` .* is reckoned from `treatment`"):
        load_ruleset(SMALL, reckoners=given)


# --- what comes with prepwright ---------------------------------------------------------------


def test_supplied_rule_set_loads() -> None:
    ruleset = load_ruleset(supplied.supplied_ruleset_folder())
    assert ruleset.name == "refinish"
    assert list(ruleset.treatments) == ["leave", "sand", "partial-strip", "strip", "renew"]
    assert all(rule.source for rule in ruleset.rules.values())


def test_unknown_supplied_rule_set() -> None:
    with pytest.raises(UsageError, match="Did you mean `refinish`"):
        supplied.supplied_ruleset_folder("refinsh")


def test_installed_files_go_before_those_of_a_checkout(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    package = tmp_path / "engine"
    installed = package / "data" / "rulesets" / "refinish"
    installed.mkdir(parents=True)
    (installed / "ruleset.yaml").touch()
    monkeypatch.setattr(supplied, "_PACKAGE", package)
    assert supplied.supplied_ruleset_folder() == installed
    with pytest.raises(UsageError, match="install it again"):
        supplied.schema_folder()
    (tmp_path / "shared" / "demo").mkdir(parents=True)
    assert supplied.demo_folder() == tmp_path / "shared" / "demo"
