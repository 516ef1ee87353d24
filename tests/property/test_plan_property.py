"""What holds of every plan: order, merging, the calendar's limits, materials growing with area."""

from __future__ import annotations

import sys
from collections import Counter
from datetime import datetime
from fractions import Fraction as F
from pathlib import Path

import hypothesis.strategies as st
from hypothesis import given, settings

sys.path.insert(0, str(Path(__file__).parents[1] / "unit"))

from plan_jobs import MONDAY, decided, planned, small

from engine.plan.calendar import CoatWindow, Job, Layout, lay
from engine.plan.merge import dues
from engine.plan.worktime import DAY, WorkTime
from engine.reckoning.cure import RecoatState, RecoatWindow
from engine.ruleset.work import Labour

NAMES = ("roof", "left door", "right door", "bonnet", "lid")


def labour() -> Labour:
    found = small().labour
    assert found is not None
    return found


# --- jobs for the calendar --------------------------------------------------------------------


@st.composite
def jobs(draw: st.DrawFn) -> list[Job]:
    found: list[Job] = []
    for number in range(draw(st.integers(1, 10))):
        earlier = [job.key for job in found]
        after = draw(st.lists(st.sampled_from(earlier), unique=True, max_size=3)) if earlier else []
        window = draw(st.booleans()) and bool(after)
        opens = draw(st.integers(0, 90))
        found.append(
            Job(
                key=f"job {number}",
                after=tuple(after),
                work=draw(st.integers(0, 500)),
                wait=draw(st.sampled_from([0, 0, 30, 600])),
                people=draw(st.integers(1, 2)),
                booth=draw(st.booleans()),
                booth_while_waiting=draw(st.booleans()),
                same_day=draw(st.booleans()),
                panels=tuple(draw(st.lists(st.sampled_from(NAMES[:3]), unique=True, max_size=2))),
                windows=(CoatWindow(after[0], opens, opens + draw(st.integers(1, 3000))),)
                if window
                else (),
            )
        )
    return found


starts = st.datetimes(datetime(2025, 3, 1), datetime(2025, 3, 12))


def layout_of(listed: list[Job], start: datetime) -> tuple[Layout, WorkTime]:
    time = WorkTime(labour(), start)
    return lay(listed, time, people=2, booths=1), time


def most_at_once(claims: list[tuple[int, int, int]]) -> int:
    """The largest sum of amounts claimed at one moment, by sweeping over all ends."""
    events = [(start, 1, amount) for start, end, amount in claims if start < end]
    events += [(end, 0, -amount) for start, end, amount in claims if start < end]
    here = most = 0
    for _, _, amount in sorted(events):
        here += amount
        most = max(most, here)
    return most


@settings(max_examples=150, deadline=None)
@given(jobs(), starts)
def test_the_calendar_keeps_its_limits(listed: list[Job], start: datetime) -> None:
    layout, time = layout_of(listed, start)
    assert set(layout.laid) | set(layout.not_laid) == {job.key for job in listed}
    people, booths, panels = [], [], {name: [] for name in NAMES}
    for laid in layout.laid.values():
        job = laid.job
        assert sum(stretch.end - stretch.start for stretch in laid.work) == job.work
        assert laid.until == laid.worked + (job.wait or 0)
        assert laid.start >= time.start
        for stretch in laid.work:
            day = stretch.start // DAY
            assert any(
                day * DAY + open.start <= stretch.start and stretch.end <= day * DAY + open.end
                for open in time.on(day)
            )
            people.append((stretch.start, stretch.end, job.people))
        if job.same_day:
            assert laid.start // DAY == laid.work[-1].start // DAY
        if job.booth:
            until = laid.until if job.booth_while_waiting else laid.worked
            booths.append((laid.start, until, 1))
        for panel in job.panels:
            panels[panel].append((laid.start, laid.until, 1))
        for key in job.after:
            assert laid.start >= layout.laid[key].until
    assert most_at_once(people) <= 2
    assert most_at_once(booths) <= 1
    assert all(most_at_once(claims) <= 1 for claims in panels.values())


@settings(max_examples=150, deadline=None)
@given(jobs(), starts)
def test_recoat_windows_are_kept_or_told(listed: list[Job], start: datetime) -> None:
    """Judged by the recoat window of `engine.reckoning.cure`, which the calendar does not use."""
    layout, _ = layout_of(listed, start)
    told = {(miss.job, miss.after): miss.by for miss in layout.missed}
    for laid in layout.laid.values():
        for window in laid.job.windows:
            assert window.closes is not None
            since = laid.start - layout.laid[window.after].worked
            state = RecoatWindow(F(window.opens, 60), F(window.closes, 60)).state(F(since, 60))
            assert state is not RecoatState.TOO_EARLY
            closed = state is RecoatState.CLOSED_SCUFF
            assert told.get((laid.job.key, window.after)) == (
                since - window.closes if closed else None
            )


@settings(max_examples=60, deadline=None)
@given(jobs(), starts)
def test_the_calendar_is_the_same_every_time(listed: list[Job], start: datetime) -> None:
    first, _ = layout_of(listed, start)
    assert layout_of(listed, start)[0] == first


# --- whole plans ------------------------------------------------------------------------------

panels = st.lists(
    st.tuples(
        st.sampled_from(["sound", "dull", "bad"]),
        st.integers(1, 80),
        st.integers(0, 5),
    ),
    min_size=1,
    max_size=len(NAMES),
)


def written(chosen: list[tuple[str, int, int]]) -> str:
    return ", ".join(
        f"{name}: {{finish: {finish}, area: {F(tenths, 10).__float__()} m2, dents: {dents}}}"
        for name, (finish, tenths, dents) in zip(NAMES, chosen, strict=False)
    )


@settings(max_examples=40, deadline=None)
@given(panels)
def test_merging_loses_nothing_and_order_keeps_prerequisites(
    chosen: list[tuple[str, int, int]],
) -> None:
    text = written(chosen)
    plan = planned(text)
    due = Counter(each.key for each in dues(small(), decided(text, ruleset=small())))
    assert Counter(part for task in plan.tasks for part in task.task.parts) == due
    place = {task.key: task.number for task in plan.tasks}
    assert list(place.values()) == list(range(1, len(place) + 1))
    for task in plan.tasks:
        assert all(place[key] < task.number for key in task.after)
        for other in plan.tasks:
            if task.task.meets(other.task) and task.task.step.phase < other.task.step.phase:
                assert task.number < other.number
    if plan.calendar is not None:
        layout = plan.calendar.layout
        for task in plan.tasks:
            for other in plan.tasks:
                if task.task.meets(other.task) and task.task.step.phase < other.task.step.phase:
                    assert layout.laid[task.key].until <= layout.laid[other.key].start


@settings(max_examples=40, deadline=None)
@given(st.integers(51, 400), st.integers(1, 200), st.integers(0, 30))
def test_more_area_takes_more_of_everything(area: int, more: int, dents: int) -> None:
    """Within one band of transfer efficiency: above 0.5 m2 in the small rule set."""

    def amounts(hundredths: int) -> dict[str, tuple[F, F]]:
        size = f"{hundredths / 100} m2"
        plan = planned(f"lid: {{finish: bad, area: {size}, dents: {dents}}}")
        found = {each.product.id: (each.amount.low, each.amount.high) for each in plan.materials}
        found["hours"] = (plan.hours.person_hours.low, plan.hours.person_hours.high)
        return found

    small_panel, large_panel = amounts(area), amounts(area + more)
    assert small_panel.keys() == large_panel.keys()
    for name in small_panel.keys() - {"putty"}:
        assert small_panel[name][0] < large_panel[name][0]
        assert small_panel[name][1] < large_panel[name][1]
    assert small_panel["putty"] == large_panel["putty"]


@settings(max_examples=40, deadline=None)
@given(st.integers(10, 300), st.integers(0, 100), st.integers(0, 100))
def test_an_exact_area_inside_a_range_stays_inside_its_amounts(
    low: int, wide: int, inside: int
) -> None:
    """A told share is exact; the amounts of the range given by the step hold those of each."""
    share = min(20, 5 + inside % 16)
    area = F(low + wide, 100)
    ranged = planned(f"lid: {{finish: dull, area: {float(area)} m2}}")
    told = planned(f"lid: {{finish: dull, area: {float(area)} m2, bare-share: {share} %}}")

    def primer(plan: object) -> tuple[F, F]:
        found = next(e for e in plan.materials if e.product.id == "primer")  # type: ignore[attr-defined]
        return found.amount.low, found.amount.high

    assert primer(ranged)[0] <= primer(told)[0]
    assert primer(told)[1] <= primer(ranged)[1]


@settings(max_examples=25, deadline=None)
@given(panels, st.data())
def test_next_never_offers_what_is_not_allowed(
    chosen: list[tuple[str, int, int]], data: st.DataObject
) -> None:
    """Working off whatever is offered, in any order, ends with nothing left and never early."""
    text = written(chosen)
    done: dict[tuple[str, str | None], datetime | None] = {}
    released = frozenset({("sign-off", None), ("air", None)})
    for _ in range(60):
        plan = planned(text, done=done, released=released, start=MONDAY)
        if not plan.tasks:
            break
        assert plan.next.ready
        offered = data.draw(st.sampled_from([each.task for each in plan.next.ready]))
        task = plan.task(offered)
        for other in plan.tasks:
            if other.task.meets(task.task):
                assert other.task.step.phase >= task.task.step.phase
        done |= dict.fromkeys(task.task.parts)
    assert not plan.tasks
