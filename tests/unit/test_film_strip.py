"""A panel's film drawn: marks where the numbers lie, and every number beside the drawing."""

from __future__ import annotations

from fractions import Fraction

import pytest

from cli.output.film_strip import film_strip
from cli.output.style import Style
from engine.facts import JobFacts, Told
from engine.jobfile import read_job
from engine.reasoning.decide import inquiry_for
from engine.reasoning.evaluate import Evaluation, evaluate
from engine.ruleset import load_ruleset
from engine.supplied import demo_folder, supplied_ruleset_folder

RULESET = load_ruleset(supplied_ruleset_folder())


@pytest.fixture(scope="module")
def demo() -> Evaluation:
    job = read_job(demo_folder() / "bookmobile.yaml", RULESET)
    return evaluate(inquiry_for(RULESET).program, job)


@pytest.mark.parametrize("width", [40, 60, 80, 100, 200])
@pytest.mark.parametrize("ascii_only", [True, False])
def test_it_fits_and_holds_every_reading(demo: Evaluation, width: int, ascii_only: bool) -> None:
    text = film_strip(demo, "bonnet", Style(width), ascii_only=ascii_only)
    assert max(map(len, text.splitlines())) <= width
    assert text.isascii() is ascii_only
    for reading in ("4.9 mil", "5.1 mil", "5/5.2/5.1 mil", "4.8 mil"):
        assert reading in text
    assert "12 mil: film.overcoat-limit" in text


def strip_of(*readings: int) -> str:
    """The picture of a steel panel with these readings in um, in the units of the EU."""
    job = JobFacts("BM-7").tell("shop", None, "shop.region", Told("eu", "eu"))
    for fact, value in (
        ("part", "original"),
        ("substrate", "steel"),
        ("film.gauge", "magnetic"),
        ("film.readings", tuple((Fraction(reading),) for reading in readings)),
    ):
        job = job.tell("panel", "roof", fact, Told(value, "told"))
    evaluation = evaluate(inquiry_for(RULESET).program, job)
    return film_strip(evaluation, "roof", Style(100), ascii_only=True)


def test_a_mark_lies_where_its_number_lies() -> None:
    """Marks keep the order of the readings; the limit of 12 mil is 304.8 um (1 mil = 25.4 um)."""
    rows = strip_of(100, 200, 400).splitlines()
    spots = [row for row in rows if row.startswith("Spot")]
    places = [row.index("o", len("Build if sanded ")) for row in spots]
    assert places == sorted(places)
    assert len(set(places)) == 3
    low, high = places[0], places[2]
    assert places[1] - low == pytest.approx((high - low) / 3, abs=1.5)
    thickest = next(row for row in rows if row.startswith("Thickest"))
    limit = next(row for row in rows if row.endswith("film.overcoat-limit"))
    assert limit.startswith("| 304.8 um") or limit.startswith("| 305 um")
    body = thickest[len("Build if sanded ") :]
    walls = [place for place, cell in enumerate(body) if cell == "|"]
    assert any(wall < body.index("o") for wall in walls)


def test_plain_says_on_which_side_of_a_limit_a_film_lies(demo: Evaluation) -> None:
    text = film_strip(demo, "roof", Style(60, plain=True))
    said = " ".join(text.split())
    assert "Typical film: 5.9 mil" in said
    assert "below film.overcoat-limit of 12 mil" in said
    assert "|" not in text
    assert "●" not in text
    assert max(map(len, text.splitlines())) <= 60


def test_a_panel_without_readings_says_so(demo: Evaluation) -> None:
    job = JobFacts("BM-7", panels={"roof": {}})
    empty = evaluate(demo.program, job)
    assert film_strip(empty, "roof", Style(80)) == "roof: no film reading is known.\n"
