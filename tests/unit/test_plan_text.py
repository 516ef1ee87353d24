"""The plan as text for a crew, by plans of the small rule set worked by hand."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import pytest
from plan_jobs import MONDAY, changed, decided, small
from rich.cells import cell_len

from cli.errors import USAGE
from cli.output.next_text import next_text
from cli.output.plan_text import about_plan, plan_text
from cli.output.style import Style
from cli.planning import plan_for, start_from
from engine.errors import UsageError
from engine.plan import Plan, Progress, make_plan
from engine.plan.merge import Subject
from engine.ruleset import RuleSet

ROOF = "roof: {finish: bad, dents: 2, area: 2 m2}"
DOOR = "left door: {finish: dull, area: 1 m2}"
TWO = f"{ROOF}, {DOOR}"
WIDE = Style(width=100)


def plan_of(panels: str, **more: object) -> Plan:
    ruleset = more.pop("ruleset", small())
    assert isinstance(ruleset, RuleSet)
    more.setdefault("start", MONDAY)
    return make_plan(ruleset, decided(panels, ruleset=ruleset), **more)  # type: ignore[arg-type]


def text_of(panels: str = TWO, style: Style = WIDE, **more: object) -> str:
    ruleset = more.get("ruleset", small())
    assert isinstance(ruleset, RuleSet)
    decision = decided(panels, ruleset=ruleset)
    return plan_text(plan_of(panels, **more), decision, ruleset, style)


def section(text: str, heading: str) -> list[str]:
    """The lines below a heading, up to the next heading."""
    lines = text.strip().splitlines()
    at = lines.index(heading)
    ends = (n for n in range(at + 2, len(lines)) if lines[n] == "─" * len(lines[n - 1]))
    found = lines[at + 2 : next(ends, len(lines) + 1) - 1]
    return found[1:] if found and not found[0] else found


def task(text: str, heading: str) -> str:
    """The block of one task, on one line."""
    blocks = "\n".join(section(text, "Tasks in order")).split("\n\n")
    found = [block for block in blocks if block.splitlines()[0] == heading]
    assert len(found) == 1, heading
    return " ".join(found[0].split())


# --- the calendar -----------------------------------------------------------------------------


def test_days_begin_with_their_name_and_work_stands_in_order() -> None:
    lines = section(text_of(), "Calendar")
    assert lines[0] == "Monday 3 March 2025"
    assert lines[1] == " 08:00-09:00 1. Wash, 1 person"
    assert " 09:00-09:55 2. Sand (left door), 1 person" in lines
    days = [line for line in lines if line and not line.startswith(" ")]
    # The Wednesday of that week is a day off in the small rule set.
    assert "Tuesday 4 March 2025" in days
    assert "Wednesday 5 March 2025" not in days


def test_work_over_a_break_says_that_it_goes_on() -> None:
    """Strip takes up to 2 h a m2: 4 h on 2 m2 from 9:00 on, over lunch from 12:00 to 13:00."""
    lines = section(text_of(), "Calendar")
    assert " 09:00-12:00 3. Strip (roof), 1 person, not finished yet" in lines
    assert " 13:00-14:00 3. Strip (roof), goes on, 1 person" in lines


def test_waits_say_until_when() -> None:
    """Priming spots takes 12 min from 10:01; primer at 20 degC can be handled after 1 h."""
    lines = " ".join(section(text_of(DOOR), "Calendar"))
    assert (
        "10:01-10:13 4. Prime spots (left door), 1 person, then waits until Mon 3 Mar 11:13"
        in lines
    )


def test_without_a_start_days_are_counted() -> None:
    text = text_of(start=None)
    assert section(text, "Calendar")[0] == "Day 1, Monday"
    assert "Begins day 1 08:00" in text
    assert "work begins on a Monday" in text


def test_the_top_says_what_is_laid_for_whom_and_when_it_ends() -> None:
    text = text_of(DOOR)
    top = " ".join(text.split("\n\n")[0].split())
    assert "Plan of job T-1: 8 tasks, 6 h 58 min to 9 h 33 min of work on 2 days" in top
    assert "Begins Mon 3 Mar 08:00, ends" in top
    assert "Laid for 2 people and 1 spray booth." in top
    assert "Held: 1 task may not begin before something is released." in top


def test_what_has_no_place_is_named() -> None:
    text = " ".join(text_of("lid: {finish: dull}").split())
    assert "Without a place on the calendar: tasks 2 to 8. See the conflicts." in text
    assert "To settle, at the end: 2 conflicts and" in text
    assert "Sand (lid): not on the calendar: how long it takes could not be reckoned" in text


def test_more_people_and_booths_are_laid_for() -> None:
    ruleset = small()
    decision = decided(TWO, ruleset=ruleset)
    made = plan_for(ruleset, decision, Progress.none(), start=MONDAY, people=5, booths=3)
    text = plan_text(made, decision, ruleset, WIDE)
    assert "Laid for 5 people and 3 spray booths." in text
    assert made.labour is not None
    assert (made.labour.people, made.labour.booths) == (5, 3)


# --- tasks ------------------------------------------------------------------------------------


def test_a_task_says_all_that_a_crew_needs() -> None:
    """Sanding 1 m2 takes 10 min once, 5 for the panel and 20 to 40 for its square metre."""
    assert task(text_of(DOOR), "2. Sand (left door)") == (
        "2. Sand (left door) - How: Sand it. - Wear: Mask - Grits: P80, then P150, then P320 "
        "- Time: 35 to 55 min hands-on - Comes after: task 1"
    )


def test_holds_come_first_with_what_releases_them_and_why() -> None:
    strip = task(text_of(), "3. Strip (roof)")
    assert strip.startswith(
        "3. Strip (roof) ! Hold, Signature (roof): The lead signs. Why: It is bad. - How:"
    )


def test_painting_says_place_people_amount_window() -> None:
    paint = task(text_of(DOOR), "6. Paint (left door)")
    assert "! Hold, Air (left door): Read the air." in paint
    conditions = "in the booth until it is dry; begun and ended on one day; 2 people"
    assert f"- Conditions: {conditions}" in paint
    assert "in 2 coats" in paint
    assert "40 min hands-on, 15 min standing by between coats, then 12 h waiting" in paint
    assert "- Window: 30 min to 24 h after Primer. If it is later: Scuff it." in paint


def test_the_same_step_on_several_panels_stands_once() -> None:
    panels = "left door: {finish: dull, area: 1 m2}, right door: {finish: dull, area: 2 m2}"
    sand = task(text_of(panels), "2, 3. Sand")
    assert sand.count("How: Sand it.") == 1
    assert sand.count("P150") == 1
    assert "2. left door. Time: 35 to 55 min hands-on" in sand
    assert "3. right door. Time: 55 min to 1 h 35 min hands-on" in sand


def test_reasons_of_one_panel_name_it(tmp_path: Path) -> None:
    rules = {'because: "It is dull."': 'because: "{panel} is dull."'}
    hold = {"treatment: sand, step:": "treatment: sand, hold: sign-off, step:"}
    ruleset = changed(tmp_path / "set", **{"rules/all": rules | hold})
    panels = f"{DOOR}, right door: {{finish: dull, area: 1 m2}}"
    sand = task(text_of(panels, ruleset=ruleset), "2, 3. Sand")
    assert "Hold, Signature (left door, right door): The lead signs." in sand
    assert "Why: left door: left door is dull. right door: right door is dull." in sand


def test_a_step_told_before_is_referred_to(tmp_path: Path) -> None:
    """Sanding comes first in the rule set, so each lid is sanded once it is stripped."""
    ruleset = changed(
        tmp_path / "set",
        **{
            "steps/all": {"before: [fill]": "before: [sand]"},
            "rules/all": {"[strip, degrease, fill,": "[strip, degrease, sand,"},
        },
    )
    panels = "lid: {finish: bad, area: 1 m2}, flap: {finish: bad, area: 1 m2}"
    text = text_of(panels, ruleset=ruleset)
    assert "- How: Strip it." in task(text, "2. Strip (lid)")
    assert "- How: as in task 2." in task(text, "4. Strip (flap)")


def test_released_holds_say_so() -> None:
    released = frozenset[tuple[str, Subject]]({("sign-off", "roof")})
    text = text_of(progress=Progress({}, released))
    strip = task(text, "3. Strip (roof)")
    assert strip.startswith("3. Strip (roof) - Released: Signature - How: Strip it.")


def test_nothing_is_said_of_a_plan_without_work() -> None:
    text = text_of("roof: {}")
    assert text.startswith("Plan of job T-1: no work is due\n")
    assert "Still undecided: roof. Only settled work is planned." in text
    assert "Calendar" not in text
    assert "roof: treatment" in text


def test_all_done_is_said() -> None:
    due = {part: None for each in plan_of(DOOR).tasks for part in each.task.parts}
    text = text_of(DOOR, progress=Progress(due, frozenset()))
    assert text.startswith("Plan of job T-1: all work is done\n")


# --- lists ------------------------------------------------------------------------------------


def test_materials_with_cans_to_buy() -> None:
    """0.73 L of paint for 3 m2 two to one with a tenth of thinner, in the cans the shop buys."""
    lines = " ".join(" ".join(section(text_of(), "Materials")).split())
    assert "Paint 0.73 L paint 1 x 0.5 L; hardener 1 x 0.25 L; thinner 1 x 1 L" in lines
    assert "Abrasive P150 2 to 3 sheets" in lines
    narrow = " ".join(text_of(style=Style(width=40)).split())
    assert "Paint: 0.73 L. Buy paint 1 x 0.5 L; hardener 1 x 0.25 L; thinner 1 x 1 L." in narrow


def test_cost_says_plainly_what_has_no_price() -> None:
    lines = " ".join(" ".join(section(text_of(), "Cost")).split())
    assert "- Labour: €" in lines
    assert "- Putty and Primer: not priced, no price in labour.yaml" in lines
    assert ", without what is not priced." in lines


def test_no_price_at_all_gives_no_total(tmp_path: Path) -> None:
    ruleset = changed(
        tmp_path / "set",
        labour={"rate: 50 EUR\n": ""},
        products={
            ", price: {amount: 8 EUR, per: 1 L}": "",
            "    price: {amount: 40 EUR, per: 1 L}\n": "",
        },
    )
    lines = " ".join(" ".join(section(text_of(ruleset=ruleset), "Cost")).split())
    assert "- Labour: not priced, labour.yaml gives no rate" in lines
    assert lines.endswith("Nothing here has a price, so there is no total.")
    assert "€" not in lines


def test_example_times_are_owned_up_to() -> None:
    assert "These are example times, not the shop's own" in text_of()


def test_what_is_missing_says_how_to_get_it() -> None:
    lines = " ".join(" ".join(section(text_of("lid: {finish: dull}"), "Missing")).split())
    assert "- lid: area" in lines
    assert "Measure length by width, folds included." in lines or "measure length" in lines


def test_assumptions_alike_stand_together() -> None:
    panels = "left door: {finish: dull, area: 1 m2}, right door: {finish: dull, area: 1 m2}"
    lines = " ".join(" ".join(section(text_of(panels), "Assumed")).split())
    assert "left door, right door: Primer on 5 % to 20 % of the panel" in lines
    assert lines.count("Primer on 5 %") == 1


# --- what is next -----------------------------------------------------------------------------


def next_of(panels: str, progress: Progress | None = None, style: Style = WIDE) -> str:
    decision = decided(panels, ruleset=small())
    return next_text(make_plan(small(), decision, progress=progress), decision, style)


def done(*steps: tuple[str, Subject], at: datetime | None = None, **more: object) -> Progress:
    return Progress(dict.fromkeys(steps, at), frozenset(), **more)  # type: ignore[arg-type]


def test_next_says_what_may_be_done_now_and_counts_the_rest() -> None:
    text = " ".join(next_of(TWO).split())
    assert text.startswith("Job T-1: 1 task may be done now")
    assert "1. Wash: 1 h, 1 person" in text
    assert "2. Sand (left door): after task 1" in text
    assert "! Hold, Signature (roof): The lead signs. It stops task 3, Strip (roof)." in text
    assert "10 more tasks come after other work. 1 of them is held as well, first task 10," in text
    assert "Paint (roof, left door), by Air (roof, left door): Read the air." in text


def test_next_names_the_hold_in_the_way_and_what_it_stops() -> None:
    text = " ".join(next_of(TWO, done(("wash", None))).split())
    assert "1 task may be done now" in text
    assert "In the way" in text
    assert "! Hold, Signature (roof): The lead signs. It stops task 2, Strip (roof)." in text


def test_next_names_a_wait_by_the_clock() -> None:
    steps: tuple[tuple[str, Subject], ...] = (
        ("wash", None), ("sand", "left door"), ("degrease", "left door"),
        ("spot-prime", "left door"),
    )  # fmt: skip
    early = done(*steps, at=MONDAY, now=MONDAY + timedelta(minutes=30))
    text = " ".join(next_of(DOOR, early).split())
    assert "nothing may be done now" in text
    waiting = "Prime spots (left door) waits until 2025-03-03 09:00"
    assert f"! {waiting} It stops task 1, Mask." in text
    unknown = " ".join(next_of(DOOR, done(*steps)).split())
    assert "- provided 1 h have passed since Prime spots (left door)" in unknown


def test_next_of_nothing() -> None:
    assert next_of("roof: {}").startswith("Job T-1: no work is due\n")
    assert "Still undecided: roof. 1 open question may bring more work." in next_of("roof: {}")


# --- every width ------------------------------------------------------------------------------


@pytest.mark.parametrize("width", [20, 32, 40, 80, 132])
@pytest.mark.parametrize("plain", [False, True])
def test_no_line_is_wider_than_asked_for(width: int, plain: bool) -> None:
    style = Style(width=width, plain=plain)
    for text in (text_of(style=style), next_of(TWO, style=style)):
        assert max(map(cell_len, text.splitlines())) <= width
        assert ("─" in text) is not plain


def test_plain_times_are_read_out() -> None:
    plain = text_of(style=Style(width=80, plain=True))
    assert " - 08:00 to 09:00: 1. Wash, 1 person" in plain
    assert " - Hold, Signature (roof): The lead signs." in plain


def test_the_line_below_a_decision() -> None:
    line = about_plan(plan_of(DOOR), "prepwright plan x.yaml")
    assert line == (
        "Planned: 6 h 58 min to 9 h 33 min of work on 2 days; see `prepwright plan x.yaml`."
    )
    assert about_plan(plan_of("roof: {}"), "prepwright plan x.yaml") is None


# --- when it begins ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "moment"),
    [
        ("2026-11-30", datetime(2026, 11, 30)),
        (" 2024-02-29 ", datetime(2024, 2, 29)),
        ("2026-11-30T13:00", datetime(2026, 11, 30, 13)),
        ("2026-11-30 07:45", datetime(2026, 11, 30, 7, 45)),
    ],
)
def test_starts_are_read(text: str, moment: datetime) -> None:
    assert start_from(text) == moment


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "is no day to start on"),
        ("30.11.2026", "is no day to start on"),
        ("11/30/2026", "is no day to start on"),
        ("2026-11-30T13:00Z", "is no day to start on"),
        ("2026-11-30T13", "is no day to start on"),
        ("20261130", "is no day to start on"),
        ("２０２６-11-30", "is no day to start on"),
        ("2026-02-29", "in the calendar"),
        ("2026-13-01", "in the calendar"),
        ("2026-11-30T24:30", "in the calendar"),
        ("0000-01-01", "in the calendar"),
    ],
)
def test_other_starts_are_refused_with_what_is_right(text: str, said: str) -> None:
    with pytest.raises(UsageError, match=said) as refused:
        start_from(text)
    assert "write it as 2026-11-30" in str(refused.value)
    assert refused.value.exit_code == USAGE
