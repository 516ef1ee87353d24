"""The whole page: sound HTML that needs nothing else, harmless whatever a job says, readable."""

from __future__ import annotations

import re
import time
from dataclasses import replace
from itertools import product

import pytest
from markupsafe import Markup
from report_pages import (
    bookmobile,
    job,
    page,
    parsed,
    planned,
    style_file,
    supplied,
    words,
)

from cli.output.plan_mixes import BEHIND_MIXES, mixes
from cli.output.plan_solvent import solvent_rows
from cli.report.bands import FILM_LIMITS
from cli.report.harmless import printed, shorten
from cli.report.holds import hold_sheet
from cli.report.page import For, Paper
from engine.facts import JobFacts, Told
from engine.jobfile import read_job
from engine.plaintext import MAX_TEXT
from engine.plan import Progress
from engine.supplied import demo_folder

READERS = pytest.mark.parametrize("reader", For)

ESCAPE = "\x1b[31;1mred\x1b[0m"
TURNED = "\u202egnippirts on\u202c"
BROKEN = "</title></style></svg><script>alert(1)</script><img src=x onerror=alert(1)>"
QUOTED = "\" onmouseover=\"alert(1)' x='{{ 7 * 7 }}{% raw %}"
LINES = "one\r\ntwo\x00three\x85four\u2028five"
HOSTILE = (ESCAPE, TURNED, BROKEN, QUOTED, LINES)


def hostile_job() -> JobFacts:
    """A job whose every text is out to do something, as no reader of job files would let it be."""
    facts = replace(bookmobile(), job=BROKEN + ESCAPE)
    sheets = list(facts.panels.values())
    names = (*HOSTILE, "x" * 400, "بوابة", "גג")
    for name, sheet in zip(names, sheets, strict=False):
        told = {
            fact: replace(each, by=QUOTED + TURNED, instrument=BROKEN + ESCAPE, at=LINES)
            for fact, each in sheet.items()
        }
        facts = replace(facts, panels={**facts.panels, name: told})
    return facts


@READERS
def test_a_page_is_sound_html_with_unique_names(reader) -> None:
    html = page(bookmobile(), reader)
    found = parsed(html)
    assert (found.wrong, found.stack) == ([], [])
    names = [attrs["id"] for _, attrs in found.tags if "id" in attrs]
    assert len(names) == len(set(names))
    assert html.lstrip().startswith("<!DOCTYPE html>")
    # The HTML standard looks for it in the first 1024 bytes alone.
    assert b'<meta charset="utf-8">' in html.encode("utf-8")[:1024]


@READERS
def test_a_page_needs_nothing_else_and_runs_nothing(reader) -> None:
    html = page(bookmobile(), reader)
    for tag, attrs in parsed(html).tags:
        assert tag not in ("script", "link", "img", "iframe", "object", "embed", "base", "form")
        for name, value in attrs.items():
            assert not name.startswith("on")
            assert name not in ("src", "href", "action", "srcset", "background", "xlink:href")
            assert not re.search(r"url\((?!#)", value or "")
    assert "@import" not in html
    assert not re.search(r"url\((?!#)", html)
    assert "default-src 'none'" in html.replace("&#39;", "'")


@READERS
def test_a_page_for_the_same_job_is_the_same(reader) -> None:
    assert page(bookmobile(), reader) == page(bookmobile(), reader)


# --- harmless ---------------------------------------------------------------------------------


@READERS
def test_hostile_text_stays_text(reader) -> None:
    html = page(hostile_job(), reader)
    calm = parsed(page(bookmobile(), reader))
    found = parsed(html)
    assert (found.wrong, found.stack) == ([], [])
    assert {tag for tag, _ in found.tags} <= {tag for tag, _ in calm.tags}
    assert {name for _, attrs in found.tags for name in attrs} <= {
        name for _, attrs in calm.tags for name in attrs
    }
    for char in html:
        assert char == "\n" or (char.isprintable() and not "\u202a" <= char <= "\u2069")
    shown = words(html)
    assert r"\x1b[31;1mred\x1b[0m" in shown
    assert r"\u202egnippirts on\u202c" in shown
    assert "<script>alert(1)</script>" in shown
    assert "x='{{ 7 * 7 }}{% raw %}" in shown
    assert "בגג" not in shown
    assert "גג" in shown


def test_a_note_of_a_million_characters_is_cut_and_says_so() -> None:
    facts = bookmobile()
    sheet = dict(facts.panels["roof"])
    readings = sheet["film.readings"]
    assert isinstance(readings, Told)
    sheet["film.readings"] = replace(readings, instrument="<b>" * 350_000, by="\x1b" * 1_000_000)
    panels = {**facts.panels, "roof": sheet}
    started = time.perf_counter()
    html = page(replace(facts, panels=panels))
    assert time.perf_counter() - started < 20
    assert "more characters]" in html
    assert len(html) < len(page(facts)) + 20_000
    assert "<b><b>" not in html


def test_every_value_printed_is_made_harmless_markup_alone_excepted() -> None:
    assert printed("a\nb\x1b") == r"a b\x1b"
    assert printed(Markup("<b>bold</b>")) == Markup("<b>bold</b>")
    assert printed(2.0) == "2"
    assert printed(1 / 3) == "0.33"
    assert printed("x" * MAX_TEXT) == "x" * MAX_TEXT
    assert str(printed("x" * (MAX_TEXT + 5))).endswith("x […5 more characters]")
    assert shorten("x" * 30, 10) == "x" * 9 + "…"
    assert shorten("short", 10) == "short"


# --- what is on it ----------------------------------------------------------------------------


def test_the_shop_reads_every_decision_reason_hold_step_and_caution() -> None:
    decision, plan = planned(bookmobile())
    shown = words(page(bookmobile()))
    for panel in decision.panels.values():
        assert panel.name in shown
        for why in panel.because:
            assert " ".join(why.text.split()) in shown
            assert f"[{why.rule}; {why.source}]" in shown
        for other in panel.instead_of:
            assert " ".join(other.why.split()) in shown
        for notice in panel.found.holds:
            assert " ".join(notice.because.split()) in shown
        for notice in panel.found.cautions:
            assert notice.title in shown
    for planned_task in plan.tasks:
        assert planned_task.task.step.title in shown
    for material in plan.materials:
        assert material.product.title in shown
    assert " ".join(decision.standing_caution.split()) in shown
    assert decision.digest in shown
    assert f"{decision.ruleset} {decision.version}" in shown
    assert "Monday 30 November 2026" in shown
    assert "there is no record to seal" in shown


def test_every_open_hold_has_a_line_to_sign_and_a_released_one_has_none() -> None:
    decision, _ = planned(bookmobile())
    topics = {("roof", notice.topic) for notice in decision.panels["roof"].found.holds}
    assert topics
    html = page(bookmobile())
    released = page(
        bookmobile(),
        progress=Progress({}, frozenset((topic, where) for where, topic in topics)),
    )
    assert html.count('class="sign"') - released.count('class="sign"') == 2 * len(topics)
    assert released.count("Released; see the record.") == len(topics)


def test_a_provisional_hold_says_what_may_lift_it_and_a_firm_one_does_not() -> None:
    facts = read_job(demo_folder() / "bookmobile-open.yaml", supplied())
    decision, _ = planned(facts)
    kinds: set[bool] = set()
    for hold in hold_sheet(decision, supplied(), Progress.none()):
        for line in hold.lines:
            at = decision.panels.get(line.subject)
            notices = [
                notice
                for notice in (at.found if at else decision.car).holds
                if notice.topic == hold.topic
            ]
            firm = [notice.because for notice in notices if not notice.provisional]
            kinds.add(bool(firm))
            assert line.until.startswith("Provisional") is not bool(firm)
            assert set(line.reasons) == set(firm or [notice.because for notice in notices])
    assert kinds == {True, False}


def test_the_seal_stands_on_every_page_of_a_record() -> None:
    for reader in For:
        shown = words(page(bookmobile(), reader, seal="12-ABCD-EFGH"))
        assert shown.count("12-ABCD-EFGH") == 2
        assert "Seal of the record: 12-ABCD-EFGH" in shown


@pytest.mark.parametrize("reader", [For.SHOP, For.CREW])
def test_the_shop_and_the_crew_read_how_each_mix_is_made_up(reader) -> None:
    _, plan = planned(bookmobile())
    shown = words(page(bookmobile(), reader))
    found = mixes(plan)
    assert len(found) > 3
    assert any(mix.batches for mix in found)
    for mix in found:
        assert f"{mix.title} : {mix.ratio}" in shown
        for batch in mix.batches:
            assert batch in shown
    assert BEHIND_MIXES in shown


def test_the_shop_reads_solvent_beside_its_limits_and_that_it_is_no_clearance() -> None:
    _, plan = planned(bookmobile())
    assert plan.solvent is not None
    assert plan.solvent.table is not None
    shown = words(page(bookmobile()))
    for row in solvent_rows(plan.solvent):
        assert " ".join(" ".join(row).split()) in shown
    assert f"Source: {plan.solvent.table.source}." in shown
    assert "Information, never clearance." in shown
    nowhere = words(page(job("roof: {}", car="year: 1996")))
    assert "Held against no limit" not in nowhere
    elsewhere = replace(bookmobile(), shop={})
    assert "Held against no limit" in words(page(elsewhere))


def test_every_limit_in_the_drawings_is_named_with_its_source() -> None:
    html = page(bookmobile())
    shown = words(html)
    for name in (*FILM_LIMITS, "filler.finish-depth", "filler.depth-limit"):
        limit = supplied().limits[name]
        assert f"{limit.note} [{name}; {limit.source}]" in shown
    bare = words(page(job("roof: {film: {gauge: magnetic, readings: [5 mil]}, substrate: steel}")))
    assert "film.overcoat-limit" in bare
    assert "filler.depth-limit" not in bare


@READERS
def test_every_sheet_says_at_its_foot_what_it_belongs_to(reader) -> None:
    html = page(replace(bookmobile(), job='x"}</style>\\ é'), reader, seal="12-ABCD")
    style = html[html.index("<style>") : html.index("</style>")]
    foot = re.search(r'@bottom-left { content: "([^"]*)"', style)
    assert foot is not None
    # CSS Syntax Level 3, 4.3.7: a backslash with six hexadecimal digits is that code point.
    read = re.sub(r"\\([0-9a-f]{6})", lambda found: chr(int(found[1], 16)), foot[1])
    kind = parsed(html).texts
    assert read.startswith('Job x"}</style>\\ é · ')
    assert read.endswith(" · 12-ABCD")
    assert read.split(" · ")[1] in kind
    assert re.fullmatch(r"[A-Za-z0-9\\]+", foot[1])


def test_the_crew_reads_calendar_tasks_holds_grits_products_and_gear() -> None:
    _, plan = planned(bookmobile())
    html = page(bookmobile(), For.CREW)
    shown = words(html)
    for planned_task in plan.tasks:
        assert " ".join(planned_task.task.step.text.split()) in shown
        for hold in planned_task.holds:
            assert f"Hold: {hold.topic.title}" in shown
        if planned_task.grits:
            assert ", then ".join(planned_task.grits) in shown
        for used in planned_task.used:
            assert used.product.title in shown
        for piece in planned_task.gear:
            assert piece.title in shown
    assert html.count('class="box"') == len(plan.tasks)
    assert "Tuesday 1 December 2026" in shown


def test_open_questions_and_readings_set_aside_are_on_the_page() -> None:
    facts = job(
        "flap: {part: original, substrate: aluminium, defects: [none], "
        "film: {gauge: magnetic, readings: [5 mil, 5 mil, 5 mil]}}"
    )
    decision, _ = planned(facts)
    shown = words(page(facts))
    assert "Set aside: Film readings." in shown
    assert "1 of 1 panel still open." in shown
    assert decision.questions
    for asked in decision.questions:
        assert " ".join(asked.ask.split()) in shown


def test_a_job_without_panels_still_makes_a_page() -> None:
    empty = JobFacts("EMPTY")
    for reader in For:
        assert "No panel is named yet." in words(page(empty, reader))


# --- print and contrast -----------------------------------------------------------------------


@pytest.mark.parametrize("paper", Paper)
def test_the_paper_is_the_one_asked_for(paper) -> None:
    html = page(bookmobile(), paper=paper)
    assert f"@page {{ size: {paper}; margin: 12mm 12mm 14mm; }}" in html


def test_letter_is_usual_in_the_us_alone() -> None:
    assert [Paper.usual_in(region) for region in ("us", "eu", "uk", None)] == [
        Paper.LETTER,
        Paper.A4,
        Paper.A4,
        Paper.A4,
    ]


def luminance(colour: str) -> float:
    """Relative luminance of `#rrggbb`, WCAG 2.1, definition of relative luminance."""
    parts = (int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5))
    linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, WCAG 2.1, definition of contrast ratio."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_contrast_formula_gives_the_ends_of_the_scale() -> None:
    # WCAG 2.1: contrast runs from 1:1 to 21:1. #767676 as the lightest grey that passes on
    # white is from memory.
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#123456", "#123456") == pytest.approx(1)
    assert contrast("#767676", "#ffffff") >= 4.5 > contrast("#777777", "#ffffff")


def test_every_text_colour_stands_out_from_every_ground() -> None:
    """4.5:1 at least, WCAG 2.1, success criterion 1.4.3, level AA."""
    css = re.sub(r"/\*.*?\*/", "", style_file(), flags=re.DOTALL)
    named = dict(re.findall(r"(--[a-z-]+):\s*(#[0-9a-f]{6})", css))
    rules = re.sub(r":root\s*{[^}]*}", "", css)
    inks = set(re.findall(r"(?<![-a-z])(?:color|fill):\s*var\((--[a-z-]+)\)", rules))
    grounds = set(re.findall(r"background:\s*var\((--[a-z-]+)\)", rules))
    # Colours of text and ground stand in variables alone, so that none is overlooked here.
    assert not re.search(r"(?<![-a-z])(?:color|background|fill):\s*(?!var)\S", rules)
    assert {"--ink", "--soft", "--deep", "--stop"} <= inks
    assert {"--paper", "--wash", "--stop-wash"} <= grounds
    for ink, ground in product(inks, grounds):
        assert contrast(named[ink], named[ground]) >= 4.5, f"{ink} on {ground}"


@READERS
def test_text_in_drawings_has_no_colour_but_those_of_the_sheet(reader) -> None:
    for tag, attrs in parsed(page(bookmobile(), reader)).tags:
        if tag in ("text", "tspan"):
            assert "fill" not in attrs
            assert attrs.get("class") in (None, "soft", "stop")
