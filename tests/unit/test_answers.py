"""Typed answers and raw values become told facts, or are refused with what would be right.

Units are checked against the definition of the inch, 25.4 mm exactly (NIST Special Publication
811, 2008, Appendix B): 1 mil is 25.4 um. The spellings are common practice, no source.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from engine.answers import choice_words, read_answer, read_value, show_value
from engine.document import WrittenNumber
from engine.errors import InputError, Place, QuantityError
from engine.facts import Told
from tests.unit.sample import spec

MIL = Fraction(254, 10)
INCH = 25_400


def codes(error: pytest.ExceptionInfo[InputError]) -> list[str]:
    return [problem.code for problem in error.value.problems]


def spots_in(unit: Fraction | int, *spots: tuple[str, ...]) -> tuple[tuple[Fraction, ...], ...]:
    return tuple(tuple(Fraction(reading) * unit for reading in spot) for spot in spots)


# --- don't know, yes and no ---------------------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    ["don't know", "Don’t know", "dont know.", "dk", "?", "unknown", "UNKNOWN", "not sure", "idk"],
)
@pytest.mark.parametrize("fact", ["substrate", "defects", "film.readings", "car.washed", "remarks"])
def test_dont_know_is_an_answer_to_every_question(fact: str, text: str) -> None:
    assert read_answer(spec(fact), text) == Told(None, text)


def test_dont_know_spellings_are_for_typing_alone() -> None:
    assert read_value(spec("substrate"), "unknown").value is None
    for text in ("dk", "?", "not sure"):
        with pytest.raises(InputError):
            read_value(spec("substrate"), text)


@pytest.mark.parametrize(
    ("text", "value"),
    [("y", "yes"), ("Yes", "yes"), ("yep", "yes"), ("n", "no"), ("NO", "no"), ("false", "no")],
)
def test_yes_and_no_as_typed(text: str, value: str) -> None:
    assert read_answer(spec("car.washed"), text) == Told(value, text)


@pytest.mark.parametrize("text", ["on", "off", "yes and no", "1", "maybe", "ye", "not"])
def test_what_is_neither_yes_nor_no_is_refused(text: str) -> None:
    with pytest.raises(InputError) as error:
        read_answer(spec("car.washed"), text)
    assert codes(error) == ["unknown-choice"]
    assert "It takes `yes`, `no` or `don't know`." in error.value.format_message()


def test_json_and_yaml_booleans_are_yes_and_no() -> None:
    assert read_value(spec("car.washed"), True).value == "yes"
    assert read_value(spec("car.washed"), False).value == "no"


# --- choices ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("steel", "steel"),
        ("Mild Steel", "steel"),
        ("GALVANIZED", "galvanised-steel"),
        ("galvanised steel", "galvanised-steel"),
        ("Zinc-coated steel", "galvanised-steel"),
        ("galv", "galvanised-steel"),
        ("alu", "aluminium"),
    ],
)
def test_words_for_choices(text: str, value: str) -> None:
    assert read_answer(spec("substrate"), text) == Told(value, text)


def test_a_beginning_that_fits_two_choices_is_asked_back() -> None:
    with pytest.raises(InputError) as error:
        read_answer(spec("defects"), "ch")
    assert codes(error) == ["ambiguous-choice"]
    assert "`ch` can mean `chips` or `chalking`" in error.value.format_message()


def test_a_beginning_of_two_words_for_one_choice_is_that_choice() -> None:
    # `no` begins `none`; `sound` and `ok` stand for it too, and nothing else begins so.
    assert read_answer(spec("defects"), "no").value == frozenset({"none"})


def test_a_near_miss_is_suggested_not_taken() -> None:
    with pytest.raises(InputError) as error:
        read_answer(spec("substrate"), "aluminnium")
    assert "Did you mean `aluminium`?" in error.value.format_message()


def test_choice_words_name_every_choice_and_its_other_words() -> None:
    words = choice_words(spec("substrate"))
    assert list(words)[:4] == ["steel", "galvanised-steel", "aluminium", "plastic"]
    assert words["alloy"] == "aluminium"
    assert choice_words(spec("car.washed"))["y"] == "yes"
    assert choice_words(spec("car.year")) == {}
    for word, meant in words.items():
        assert read_answer(spec("substrate"), word).value == meant


# --- sets ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    ["chips, peeling", "chips and flaking", "peel + nicks", "chips;peeling,chips", "flak & chips"],
)
def test_members_of_a_set_as_typed(text: str) -> None:
    assert read_answer(spec("defects"), text) == Told(frozenset({"chips", "peeling"}), text)


def test_a_word_that_holds_and_stays_whole() -> None:
    told = read_answer(spec("defects"), "chips, wear and tear")
    assert told.value == frozenset({"chips", "peeling"})


def test_a_set_from_a_list_tolerates_duplicates() -> None:
    told = read_value(spec("defects"), ["chips", "CHIPS", "fading"])
    assert told == Told(frozenset({"chips", "fading"}), "chips, CHIPS, fading")


def test_none_stands_alone() -> None:
    assert read_value(spec("defects"), ["none"]).value == frozenset({"none"})
    with pytest.raises(InputError) as error:
        read_answer(spec("defects"), "none and chips")
    assert codes(error) == ["alone-among-others"]


def test_every_wrong_member_is_named() -> None:
    with pytest.raises(InputError) as error:
        read_value(spec("defects"), ["chipz", "fading", "peelin"])
    assert codes(error) == ["unknown-choice", "unknown-choice"]


# --- readings -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    [
        "4.9, 5.1, 5.0 mil",
        "4.9 5.1 5.0 mil",
        "4.9,5.1,5.0mil",
        "4.9; 5.1; 5.0 thou",
        "4.9 mil, 5.1 mil, 5.0 mil",
        "4.9, 5.1 and 5.0 mils",
        "4.9 mil and 5.1 mil and 5.0 mil",
        "4,9; 5,1; 5,0 mil",
        "4.9\n5.1\n5.0 mil",
        "4.9, 5.1, 5.0 mil.",
        "0.0049, 0.0051, 0.0050 in",
        "124.46 um, 129.54 um, 127 um",
        "four point nine mil, 5.1 mil, five mil",
    ],
)
@pytest.mark.parametrize("read", [read_answer, read_value])
def test_readings_in_peoples_spellings(read: object, text: str) -> None:
    told = read(spec("film.readings"), text)  # type: ignore[operator]
    assert told.value == spots_in(MIL, ("4.9",), ("5.1",), ("5.0",))
    assert told.written == text


@pytest.mark.parametrize(
    ("text", "spots"),
    [
        ("5.0/5.2/5.1 mil", [("5.0", "5.2", "5.1")]),
        ("5.0 / 5.2 mil", [("5.0", "5.2")]),
        ("5 mil/5.2 mil", [("5", "5.2")]),
        ("4.9, 5.0/5.2, 5.1 mil", [("4.9",), ("5.0", "5.2"), ("5.1",)]),
        ("5/6 mil", [("5", "6")]),
        ("5/6/5 mil", [("5", "6", "5")]),
    ],
)
def test_a_slash_joins_the_readings_of_one_spot(text: str, spots: list[tuple[str, ...]]) -> None:
    assert read_answer(spec("film.readings"), text).value == spots_in(MIL, *spots)


@pytest.mark.parametrize(
    ("text", "depths"),
    [
        ("1/4 in", ["1/4"]),
        ('1/8" 3/16"', ["1/8", "3/16"]),
        ("1/8, 3/16 and 1/4 in", ["1/8", "3/16", "1/4"]),
        ("1 1/4 in", ["5/4"]),
        ("1-1/4 in, 3/8 in", ["5/4", "3/8"]),
        ("1 and 1/4 in", ["5/4"]),
        ("1 in 1/4 in", ["1", "1/4"]),
        ("1, 1/4 in", ["1", "1/4"]),
        ("½ in, 1½ in", ["1/2", "3/2"]),
        ("a quarter inch", ["1/4"]),
        ("6.35 mm", ["1/4"]),
    ],
)
def test_fractions_of_an_inch_are_not_spots(text: str, depths: list[str]) -> None:
    told = read_answer(spec("filler.readings"), text)
    assert told.value == spots_in(INCH, *((depth,) for depth in depths))


@pytest.mark.parametrize(
    ("fact", "text", "code"),
    [
        ("film.readings", "4,9 mil", "ambiguous-comma"),
        ("film.readings", "120,125,130 um", "ambiguous-comma"),
        ("film.readings", "1/2 mil", "ambiguous-slash"),
        ("filler.readings", "1/4/3/8 in", "ambiguous-slash"),
        ("film.readings", "4.9-5.1 mil", "several-values"),
        ("film.readings", "4.9, , 5.1 mil", "empty"),
        ("film.readings", "4.9 mil, 5.1, 5.0", "no-unit"),
        ("film.readings", "4.9, 5.1 mil, 130 um", "no-unit"),
        ("film.readings", "4.9 5.1 furlongs", "unknown-unit"),
        ("film.readings", "4.9, 5.1 degC", "wrong-unit"),
        ("film.readings", "-5 mil", "negative"),
        ("film.readings", "4.9, 300 mil", "implausible"),
        ("film.readings", "none", "no-unit"),
        ("film.readings", "some", "no-number"),
    ],
)
def test_readings_that_can_mean_two_things_or_none_are_refused(
    fact: str, text: str, code: str
) -> None:
    with pytest.raises(InputError) as error:
        read_answer(spec(fact), text)
    assert codes(error) == [code]
    assert error.value.problems[0].fix


def test_bare_readings_are_asked_back_with_likely_units() -> None:
    with pytest.raises(QuantityError) as error:
        read_answer(spec("film.readings"), "4.9, 5.1, 5.0")
    assert error.value.likely == ("4.9, 5.1, 5.0 mil", "4.9, 5.1, 5.0 um")
    for likely in error.value.likely:
        assert len(read_answer(spec("film.readings"), likely).value or ()) == 3


def test_bare_readings_in_a_list_are_refused_together() -> None:
    raw = [WrittenNumber("4.9"), "5.0 mil", WrittenNumber("5.1"), 5]
    with pytest.raises(QuantityError) as error:
        read_value(spec("film.readings"), raw)
    assert "`4.9` has no unit: is it 4.9 mil or 4.9 um? (and 2 more like it)" in str(error.value)


def test_nested_lists_hold_the_readings_of_one_spot() -> None:
    told = read_value(spec("film.readings"), ["4.9 mil", ["5.0 mil", "5.2 mil"], "5.0/5.1 mil"])
    assert told.value == spots_in(MIL, ("4.9",), ("5.0", "5.2"), ("5.0", "5.1"))
    assert told.written == "4.9 mil, 5.0 mil/5.2 mil, 5.0/5.1 mil"
    assert told.unit == "mil"


def test_a_comma_inside_one_list_item_is_a_decimal_comma() -> None:
    assert read_value(spec("film.readings"), ["4,9 mil"]).value == spots_in(MIL, ("4.9",))


def test_a_list_in_several_units_has_no_one_unit() -> None:
    assert read_value(spec("film.readings"), ["5 mil", "127 um"]).unit is None


# --- quantities, text, shapes -------------------------------------------------------------------


def test_quantities_keep_what_was_written() -> None:
    told = read_answer(spec("shop.air-temperature"), " 70 F ")
    assert told == Told(Fraction(190, 9), "70 F", unit="degF")
    assert read_value(spec("car.year"), 1996) == Told(Fraction(1996), "1996")
    assert read_value(spec("dents.small"), WrittenNumber("3.0")).written == "3.0"


@pytest.mark.parametrize(
    ("fact", "text", "ask"),
    [
        ("shop.air-temperature", "75 degC", "Did you mean `75 degF`?"),
        ("film.readings", "300 mil", "Did you mean `300 um`?"),
        ("car.year", "1796", "1886 to 2100 is expected."),
    ],
)
def test_implausible_values_are_asked_back(fact: str, text: str, ask: str) -> None:
    with pytest.raises(QuantityError) as error:
        read_answer(spec(fact), text)
    assert codes(error) == ["implausible"]
    assert ask in error.value.format_message()


@pytest.mark.parametrize(
    ("fact", "text"),
    [
        ("remarks", "\x1b[31mred"),
        ("remarks", "back\x08space"),
        ("remarks", "left \u202e right"),
        ("remarks", "c1 \x9b31m"),
        ("substrate", "steel\x1b[0m"),
        ("film.readings", "5 mil\x00"),
        ("car.washed", "yes\x07"),
    ],
)
def test_control_characters_are_refused_and_never_repeated(fact: str, text: str) -> None:
    with pytest.raises(InputError) as error:
        read_answer(spec(fact), text)
    assert codes(error) == ["control-character"]
    message = error.value.format_message()
    assert all(char.isprintable() or char == "\n" for char in message)


def test_text_keeps_lines_and_is_capped() -> None:
    assert read_value(spec("remarks"), "a\nb: c\n").value == "a\nb: c"
    assert read_value(spec("remarks"), "x" * 2_000).value == "x" * 2_000
    with pytest.raises(InputError) as error:
        read_value(spec("remarks"), "x" * 2_001)
    assert codes(error) == ["too-long"]


@pytest.mark.parametrize("raw", [None, ""])
@pytest.mark.parametrize("fact", ["substrate", "defects", "film.readings", "car.year", "remarks"])
def test_no_value_is_never_taken_for_unknown(fact: str, raw: object) -> None:
    with pytest.raises(InputError) as error:
        read_value(spec(fact), raw)
    assert codes(error) == ["empty"]
    assert "Write `unknown` where it is not known." in error.value.format_message()


@pytest.mark.parametrize(
    ("fact", "raw", "code"),
    [
        ("car.year", True, "wrong-type"),
        ("car.year", [1996], "unexpected-list"),
        ("substrate", ["steel"], "unexpected-list"),
        ("substrate", {"value": {"value": "steel"}}, "unexpected-mapping"),
        ("substrate", {"by": "Sam"}, "no-value"),
        ("substrate", {"value": "steel", "who": "Sam"}, "unknown-key"),
        ("substrate", {"value": "steel", "by": "a\nb"}, "control-character"),
        ("remarks", 7, "not-text"),
        ("film.readings", [[["5 mil"]]], "wrong-type"),
        ("film.readings", [[]], "empty"),
        ("film.readings", ["5 mil"] * 5_001, "too-long"),
        ("defects", [["chips"]], "wrong-type"),
        ("defects", object(), "wrong-type"),
    ],
)
def test_values_of_the_wrong_shape(fact: str, raw: object, code: str) -> None:
    with pytest.raises(InputError) as error:
        read_value(spec(fact), raw, Place("job.yaml", 3, 7))
    assert codes(error) == [code]
    assert error.value.format_message().startswith("job.yaml:3:7: ")


def test_provenance_is_kept() -> None:
    raw = {"value": "5 mil", "by": "Sam", "at": "2026-03-02", "with": "gauge 2"}
    told = read_value(spec("film.readings"), raw)
    assert (told.by, told.at, told.instrument) == ("Sam", "2026-03-02", "gauge 2")
    assert read_value(spec("substrate"), {"value": "unknown", "by": "Sam"}).value is None


# --- showing ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fact", "text", "unit", "shown"),
    [
        ("substrate", "galv", None, "galvanised steel"),
        ("defects", "rust bubbles, chips", None, "chips, rust bubbles"),
        ("film.readings", "4.9, 5.1/5.3 mil", "mil", "4.9, 5.1/5.3 mil"),
        ("film.readings", "1.0/2.0 mil", "mil", "1 mil/2 mil"),
        ("film.readings", "5 mil", None, "127 um"),
        ("filler.readings", "1/4 in", "mm", "6.35 mm"),
        ("shop.air-temperature", "70 F", "degF", "70 degF"),
        ("car.year", "1996", None, "1996"),
        ("remarks", "a-b c", None, "a-b c"),
        ("car.washed", "dk", None, "unknown"),
    ],
)
def test_values_are_shown_in_words(fact: str, text: str, unit: str | None, shown: str) -> None:
    value = read_answer(spec(fact), text).value
    assert show_value(spec(fact), value, unit) == shown
    assert read_answer(spec(fact), shown).value == value
