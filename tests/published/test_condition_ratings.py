"""Rust, flaking, blistering and adhesion grades, with the tables the rule set supplies.

Trust marks: [read] seen in a text of the standard or one quoting it; [memory]; [derived].
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml

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

ROOT = Path(__file__).resolve().parents[2]
TABLES = yaml.safe_load((ROOT / "rulesets/refinish/tables/ratings.yaml").read_text("utf-8"))[
    "tables"
]


def rows(table: str) -> list[list[Any]]:
    return TABLES[f"ratings.{table}"]["rows"]  # type: ignore[no-any-return]


def pairs(table: str) -> list[tuple[Any, Any]]:
    return [(given, wanted) for given, wanted in rows(table)]


def bands(table: str) -> list[Band]:
    return [Band(*row[:5]) for row in rows(table)]


D610 = bands("d610-grades")
ISO2409, D3359 = bands("iso2409-classes"), bands("d3359-b-classes")


# ASTM D610, Table 1 [read]: upper ends count.
@pytest.mark.parametrize(
    ("share", "grade"),
    [
        (0, 10), (0.01, 10), (0.011, 9), (0.03, 9), (0.031, 8), (0.1, 8), (0.11, 7), (0.3, 7),
        (0.31, 6), (1, 6), (1.01, 5), (3, 5), (3.1, 4), (10, 4), (10.1, 3), (12, 3), (16, 3),
        (16.1, 2), (33, 2), (33.1, 1), (50, 1), (50.1, 0), (51, 0), (100, 0),
    ],
)  # fmt: skip
def test_d610_grade(share: float, grade: int) -> None:
    assert graded(share, bands=D610, shared="worse") == grade
    assert graded(share, bands=D610, shared="better") == grade


@pytest.mark.parametrize(
    ("share", "letter", "written"),
    [(12, "S", "3-S"), (0.2, "P", "7-P"), (0.005, None, "10"), (60, None, "0"), (20, "G", "2-G")],
)
def test_d610_distribution_letter(share: float, letter: str | None, written: str) -> None:
    """ASTM D610 [read]: 12 % in spots is 3-S; grades 10 and 0 carry no letter."""
    plain = [row[0] for row in rows("d610-grades") if not row[5]]
    assert plain == [10, 0]
    found = rust_grade(
        share,
        distribution=letter,
        bands=D610,
        without_letter=plain,
        letters=dict(rows("d610-distributions")),
    )
    assert found == written


# ISO 4628-3, Table 1 [memory]; between two pictures the worse one, derived.
@pytest.mark.parametrize(
    ("share", "degree"),
    [(0, 0), (0.05, 1), (0.06, 2), (0.5, 2), (1, 3), (1.1, 4), (8, 4), (8.1, 5), (45, 5), (99, 5)],
)
def test_iso4628_3_degree(share: float, degree: int) -> None:
    references = [Reference(*row) for row in rows("iso4628-3-rust")]
    assert rated_by_reference(share, references=references) == degree


def test_iso4628_3_beside_d610() -> None:
    """ISO 4628-3, Annex B [memory] against each picture's percentage by ASTM D610 [read].

    The annex speaks of pictures: it has 0.05 % beside grade 9 and 0.5 % beside 7, where the
    percentages alone make 8 and 6.
    """
    beside = dict(pairs("iso4628-3-d610"))
    grades = [graded(share, bands=D610, shared="worse") for _, share in rows("iso4628-3-rust")]
    assert grades == [10, 8, 6, 6, 4, 1]
    assert [beside[degree] for degree in range(6)] == [10, 9, 7, 6, 4, 1]


# ISO 4628-5, Table 1 [memory].
@pytest.mark.parametrize(
    ("share", "quantity"), [(0, 0), (0.1, 1), (0.3, 2), (1, 3), (3, 4), (3.1, 5), (15, 5), (40, 5)]
)
def test_iso4628_5_quantity(share: float, quantity: int) -> None:
    references = [Reference(*row) for row in rows("iso4628-5-flaking")]
    assert rated_by_reference(share, references=references) == quantity


# ASTM D3359, Fig. 1 [read]; ISO 2409, Table 1 [memory]. Shared 15 and 35 %: the worse, derived.
@pytest.mark.parametrize(
    ("share", "iso", "astm"),
    [
        (0, 0, "5B"), (0.1, 1, "4B"), (4, 1, "4B"), (4.99, 1, "4B"), (5, 1, "3B"), (5.01, 2, "3B"),
        (10, 2, "3B"), (15, 2, "2B"), (20, 3, "2B"), (35, 3, "1B"), (35.1, 4, "1B"), (50, 4, "1B"),
        (65, 4, "1B"), (65.1, 5, "0B"), (70, 5, "0B"), (100, 5, "0B"),
    ],
)  # fmt: skip
def test_cross_cut_classes(share: float, iso: int, astm: str) -> None:
    assert graded(share, bands=ISO2409, shared="worse") == iso
    assert graded(share, bands=D3359, shared="worse") == astm


def test_only_15_and_35_percent_are_shared_between_two_rows() -> None:
    """ASTM D3359, Fig. 1 [read]."""
    for share, better in ((15, "3B"), (35, "2B")):
        assert graded(share, bands=D3359, shared="better") == better
    for share in (0, 5, 65):
        assert graded(share, bands=D3359, shared="better") == graded(
            share, bands=D3359, shared="worse"
        )


# ASTM D3359 [read] beside ISO 2409 [memory].
@pytest.mark.parametrize(
    ("astm", "iso"), [("5B", 0), ("4B", 1), ("3B", 2), ("2B", 3), ("1B", 4), ("0B", 5)]
)
def test_the_two_cross_cut_scales_run_opposite_ways(astm: str, iso: int) -> None:
    table = pairs("d3359-iso2409")
    assert corresponding(astm, pairs=table) == iso
    assert corresponding(iso, pairs=turned(table)) == astm
    assert int(astm[0]) + iso == 5


def test_there_are_no_half_grades() -> None:
    """ASTM D3359 [read]."""
    with pytest.raises(ReckoningError):
        corresponding("3.5B", pairs=pairs("d3359-iso2409"))


# ISO 4628-2 beside ASTM D714 [memory].
@pytest.mark.parametrize(
    ("size", "frequency", "written"),
    [
        (8, "F", "2(S2)"),
        (6, "M", "3(S3)"),
        (4, "MD", "4(S4)"),
        (2, "D", "5(S5)"),
        (4, "M", "3(S4)"),
        (10, None, "0(S0)"),
    ],
)
def test_d714_as_iso4628_2(size: int, frequency: str | None, written: str) -> None:
    found = blister_rating(
        size,
        frequency,
        sizes=pairs("d714-size"),
        frequencies=pairs("d714-frequency"),
        none_size=10,
    )
    assert found == written


D3359_TESTS = [CutRow(*row) for row in rows("d3359-tests")]
ISO2409_TESTS = [CutRow(*row) for row in rows("iso2409-tests")]


# ASTM D3359 [read, in a report quoting it].
@pytest.mark.parametrize(
    ("film", "method", "cuts", "spacing"),
    [
        (30, "B", 11, 1),
        (50, "B", 11, 1),
        (51, "B", 6, 2),
        (125, "B", 6, 2),
        (126, "A", None, None),
        (300, "A", None, None),
    ],
)
def test_d3359_method_by_film(
    film: float, method: str, cuts: int | None, spacing: int | None
) -> None:
    row = adhesion_test(film, base="hard", textured=False, rows=D3359_TESTS)
    assert (row.method, row.cuts, row.spacing_mm) == (method, cuts, spacing)


# ISO 2409, clause 8.1.4 [memory]; end at 250 µm and six cuts [read].
@pytest.mark.parametrize(
    ("film", "base", "spacing"),
    [
        (60, "hard", 1),
        (60, "soft", 2),
        (61, "hard", 2),
        (61, "soft", 2),
        (120, "hard", 2),
        (121, "hard", 3),
        (250, "hard", 3),
    ],
)
def test_iso2409_spacing_by_film(film: float, base: Any, spacing: int) -> None:
    row = adhesion_test(film, base=base, textured=False, rows=ISO2409_TESTS)
    assert (row.cuts, row.spacing_mm) == (6, spacing)


@pytest.mark.parametrize(("film", "textured"), [(250.1, False), (100, True)])
def test_iso2409_leaves_out_thick_and_textured_films(film: float, textured: bool) -> None:
    """ISO 2409 [read]: not over 250 µm, not on textured films; a pull-off test instead."""
    with pytest.raises(ReckoningError, match="pull-off test"):
        adhesion_test(film, base="hard", textured=textured, rows=ISO2409_TESTS)


def test_every_table_says_where_it_comes_from() -> None:
    for path in ("ratings.yaml", "survey.yaml"):
        text = (ROOT / "rulesets/refinish/tables" / path).read_text("utf-8")
        for name, table in yaml.safe_load(text)["tables"].items():
            source = table["source"]
            assert source["kind"] == "standard", name
            assert source["checked"] in ("read", "memory"), name
            assert {"name", "edition"} <= set(source), name
            assert {len(row) for row in table["rows"]} == {len(table["columns"])}, name
