"""Grading by bands, reference pictures, pairs and cut tests."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.errors import ReckoningError
from engine.reckoning.ratings import (
    Band,
    CutRow,
    Reference,
    adhesion_test,
    blister_rating,
    corresponding,
    graded,
    rated_by_reference,
    rust_grade,
    turned,
)

BANDS = [Band("a", 0, True, 5, True), Band("b", 5, True, 20, True), Band("c", 20, False, 100, True)]
PICTURES = [Reference(0, 0), Reference(2, 10), Reference(1, 1)]
LETTERS = {"S": "spot", "G": "general"}


def test_a_shared_boundary_goes_where_it_is_told() -> None:
    assert graded(5, bands=BANDS, shared="worse") == "b"
    assert graded(5, bands=BANDS, shared="better") == "a"
    assert graded(20, bands=BANDS, shared="worse") == "b"
    assert graded(20.0001, bands=BANDS, shared="better") == "c"


@pytest.mark.parametrize("share", [-0.1, 100.1, None])
def test_a_share_of_surface_is_a_percentage(share: float | None) -> None:
    with pytest.raises(ReckoningError, match="estimate it on the panel"):
        graded(share, bands=BANDS, shared="worse")  # type: ignore[arg-type]
    with pytest.raises(ReckoningError, match="estimate it on the panel"):
        rated_by_reference(share, references=PICTURES)  # type: ignore[arg-type]


def test_gaps_in_a_table_are_refused_not_guessed() -> None:
    with pytest.raises(ReckoningError, match="has no grade for 50 %"):
        graded(50, bands=BANDS[:2], shared="worse")
    with pytest.raises(ReckoningError, match="empty"):
        rated_by_reference(5, references=[])
    with pytest.raises(ReckoningError, match="better or the worse"):
        graded(5, bands=BANDS, shared="either")  # type: ignore[arg-type]


def test_between_two_pictures_the_worse_one_counts() -> None:
    assert [rated_by_reference(p, references=PICTURES) for p in (0, 0.5, 1, 1.1, 10, 90)] == [
        0,
        1,
        1,
        2,
        2,
        2,
    ]


def test_rust_letters() -> None:
    def rust(share: float, letter: str | None) -> str:
        bands = [Band(10, 0, True, 1, True), Band(5, 1, False, 100, True)]
        return rust_grade(
            share, distribution=letter, bands=bands, without_letter=[10], letters=LETTERS
        )

    assert rust(2, "S") == "5-S"
    assert rust(1, "S") == "10"
    with pytest.raises(ReckoningError, match=r"one of S \(spot\), G \(general\)\."):
        rust(2, None)


def test_pairs_go_both_ways_and_have_no_half_grades() -> None:
    pairs = [("5B", 0), ("4B", 1)]
    assert corresponding("4B", pairs=pairs) == 1
    assert corresponding(0, pairs=turned(pairs)) == "5B"
    for wrong in ("4.5B", "4A", 1):
        with pytest.raises(ReckoningError, match="no counterpart; the grades here are 5B, 4B"):
            corresponding(wrong, pairs=pairs)
    with pytest.raises(ReckoningError, match="no one way back"):
        turned([("a", 1), ("b", 1)])


def test_blisters() -> None:
    tables = {"sizes": [(8, 2), (4, 4)], "frequencies": [("M", 3)], "none_size": 10}
    assert blister_rating(4, "M", **tables) == "3(S4)"  # type: ignore[arg-type]
    assert blister_rating(10, None, **tables) == "0(S0)"  # type: ignore[arg-type]
    for size, frequency in ((10, "M"), (4, None), (5, "M"), (4, "X")):
        with pytest.raises(ReckoningError):
            blister_rating(size, frequency, **tables)  # type: ignore[arg-type]


CUTS = [
    CutRow("hard cut", "hard", 0, 60, 6, 1, True),
    CutRow("soft cut", "soft", 0, 60, 6, 2, True),
    CutRow("wide cut", None, 60, 120, 6, 2, True),
    CutRow("X", None, 120, 250, None, None, False),
]


def test_the_cut_follows_the_film() -> None:
    def cut(film: float, base: str | None = "hard", textured: bool = False) -> str:
        return adhesion_test(film, base=base, textured=textured, rows=CUTS).method  # type: ignore[arg-type]

    assert [cut(film) for film in (0, 60, 60.1, 120, 250)] == [
        "hard cut",
        "hard cut",
        "wide cut",
        "wide cut",
        "X",
    ]
    assert cut(40, "soft") == "soft cut"
    assert cut(100, None) == "wide cut"
    assert cut(200, textured=True) == "X"
    for film in (40, 60):
        with pytest.raises(ReckoningError, match="depends on its base"):
            cut(film, None)
    with pytest.raises(ReckoningError, match="do not suit a textured film"):
        cut(100, textured=True)
    with pytest.raises(ReckoningError, match=r"suits a film of 250\.1 um"):
        cut(250.1)


@given(st.lists(st.floats(0, 100), min_size=2))
def test_more_damage_is_never_a_better_grade(shares: list[float]) -> None:
    order = [band.grade for band in BANDS]
    places = [order.index(graded(p, bands=BANDS, shared="worse")) for p in sorted(shares)]
    rated = [rated_by_reference(p, references=PICTURES) for p in sorted(shares)]
    assert all(a <= b for a, b in pairwise(places))
    assert all(a <= b for a, b in pairwise(rated))
