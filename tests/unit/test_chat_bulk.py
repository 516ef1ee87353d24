"""One line that answers for several panels."""

from __future__ import annotations

import pytest

from cli.chat.bulk import Part, match_panels, split_bulk
from cli.chat.words import command_in
from engine.errors import InputError

PANELS = ("bonnet", "roof", "left front door", "left rear door", "front bumper", "rear bumper")


def shares(text: str, default: tuple[str, ...] = PANELS) -> dict[str, str]:
    return {
        panel: part.value for part in split_bulk(text, PANELS, default) for panel in part.panels
    }


def test_all_with_exceptions() -> None:
    found = shares("all steel; bumpers: plastic")
    assert found == {
        **dict.fromkeys(PANELS[:4], "steel"),
        "front bumper": "plastic",
        "rear bumper": "plastic",
    }


def test_the_order_of_exception_and_all_does_not_lose_either() -> None:
    assert shares("all: steel; roof: aluminium") == shares("roof: aluminium; all: steel")
    assert shares("all: steel; roof: aluminium")["roof"] == "aluminium"


def test_rest_is_what_nobody_named() -> None:
    found = shares("bumpers: plastic; rest: don't know")
    assert found["bonnet"] == "don't know"
    assert found["rear bumper"] == "plastic"


def test_all_and_rest_are_of_the_panels_asked_where_one_comes_first() -> None:
    panels = ("bonnet", "roof", "tailgate", "sill")
    found = split_bulk("all 0; roof: 2", panels, ("bonnet",), ("bonnet", "roof", "sill"))
    assert {part.value: part.panels for part in found} == {"0": ("bonnet", "sill"), "2": ("roof",)}
    found = split_bulk("roof: 2; rest: 0", panels, ("bonnet",), ("bonnet", "roof", "sill"))
    assert {part.value: part.panels for part in found} == {"0": ("bonnet", "sill"), "2": ("roof",)}


def test_rest_stays_within_the_panels_of_the_question() -> None:
    assert set(shares("roof: steel; rest: plastic", ("bonnet", "roof"))) == {"bonnet", "roof"}


def test_a_value_alone_is_for_the_panels_of_the_question() -> None:
    assert shares("peeling, chips", ("roof",)) == {"roof": "peeling, chips"}


def test_several_names_before_a_colon() -> None:
    found = shares("bonnet, roof and left rear door: steel; rest: aluminium")
    assert [panel for panel, value in found.items() if value == "steel"] == [
        "bonnet",
        "roof",
        "left rear door",
    ]


def test_a_name_then_a_value_without_colon() -> None:
    assert shares("roof 5.0 5.1 mil; bonnet 4.9 mil") == {
        "roof": "5.0 5.1 mil",
        "bonnet": "4.9 mil",
    }


def test_equal_values_are_shared_in_one_part() -> None:
    assert split_bulk("doors: steel", PANELS, PANELS) == (
        Part(("left front door", "left rear door"), "steel"),
    )


@pytest.mark.parametrize(
    ("name", "panels"),
    [
        ("doors", ("left front door", "left rear door")),
        ("left", ("left front door", "left rear door")),
        ("front", ("left front door", "front bumper")),
        ("Front Bumper", ("front bumper",)),
        ("boot", ()),
    ],
)
def test_names_fit_by_their_words(name: str, panels: tuple[str, ...]) -> None:
    assert match_panels(name, PANELS) == panels


def test_a_name_that_fits_nothing_says_what_is_near() -> None:
    with pytest.raises(InputError, match=r"no panel is called `bonet`.*\n.*`bonnet`"):
        split_bulk("bonet: steel", PANELS, PANELS)


def test_an_empty_answer_is_refused() -> None:
    with pytest.raises(InputError, match="nothing was answered"):
        split_bulk(" ; ", PANELS, PANELS)


@pytest.mark.parametrize(
    ("line", "name", "rest"),
    [
        ("?", "help", ""),
        ("why", "why", ""),
        ("why roof", "why", "roof"),
        ("BACK", "back", ""),
        ("show left front door", "show", "left front door"),
        ("quit", "stop", ""),
        ("/stop", "stop", ""),
    ],
)
def test_command_words(line: str, name: str, rest: str) -> None:
    command = command_in(line)
    assert command is not None
    assert (command.name, command.rest) == (name, rest)


@pytest.mark.parametrize("line", ["steel", "back panel: steel", "stop light: plastic", "12 mil"])
def test_answers_are_not_commands(line: str) -> None:
    assert command_in(line) is None


def test_a_choice_that_shares_a_command_word_is_an_answer_unless_slashed() -> None:
    assert command_in("skip", frozenset({"skip"})) is None
    slashed = command_in("/skip", frozenset({"skip"}))
    assert slashed is not None
    assert slashed.name == "skip"
