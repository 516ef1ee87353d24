"""A calendar laid piece by piece is the one that laying everything anew after each move gives."""

from __future__ import annotations

import random

from hypothesis import given, settings
from hypothesis import strategies as st

from engine.plan import calendar
from engine.plan.calendar import CoatWindow, Job, Layout, lay
from engine.plan.worktime import WorkTime
from engine.ruleset import load_ruleset
from engine.supplied import supplied_ruleset_folder

_LABOUR = load_ruleset(supplied_ruleset_folder()).labour
assert _LABOUR is not None
_WORKTIME = WorkTime(_LABOUR, None)


def laid_anew(jobs: list[Job], people: int, booths: int) -> Layout:
    """By the rules of `lay`, with all laid from nothing each time, and again for each given up."""
    moved: dict[str, int] = {}
    moves: dict[tuple[str, str], int] = {}
    given_up: set[tuple[str, str]] = set()
    while True:
        nothing = calendar._Laying({}, {})
        found = calendar._Pass(_WORKTIME, people, booths, moved).lay(jobs, 0, nothing, None)
        late = [over for over in calendar._overruns(jobs, found) if over.pair not in given_up]
        if not late:
            return Layout(found.laid, found.not_laid, ())
        first = late[0]
        moves[first.pair] = moves.get(first.pair, 0) + 1
        if moves[first.pair] > calendar._MOVES:
            given_up.add(first.pair)
            moved, moves = {}, {}
            continue
        inside = min(((first.window.closes or 0) - first.window.opens) // 2, calendar._SLACK)
        after = first.window.after
        moved[after] = found.laid[after].start + first.by + inside


def drawn(seed: int, most: int) -> list[Job]:
    draw = random.Random(seed)
    jobs: list[Job] = []
    for number in range(draw.randint(2, most)):
        before = [job.key for job in jobs]
        after = tuple(draw.sample(before, min(len(before), draw.randint(0, 2))))
        windows = tuple(
            CoatWindow(key, draw.randint(0, 120), draw.choice([None, draw.randint(30, 600)]))
            for key in after
            if draw.random() < 0.6
        )
        jobs.append(
            Job(
                key=f"job {number}",
                after=after,
                work=draw.choice([None, *[draw.randint(0, 300)] * 20]),
                wait=draw.randint(0, 900),
                people=draw.choice([1, 1, 2]),
                booth=draw.random() < 0.3,
                booth_while_waiting=draw.random() < 0.5,
                same_day=draw.random() < 0.3,
                panels=tuple(draw.sample("abcd", draw.randint(0, 2))),
                windows=windows,
                not_before=draw.choice([0, 0, 500]),
            )
        )
    return jobs


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32), st.integers(1, 3), st.integers(0, 2))
def test_it_is_laid_as_if_anew(seed: int, people: int, booths: int) -> None:
    jobs = drawn(seed, 25)
    found = lay(jobs, _WORKTIME, people=people, booths=booths)
    anew = laid_anew(jobs, people, booths)
    assert dict(found.laid) == dict(anew.laid)
    assert list(found.laid) == list(anew.laid)
    assert dict(found.not_laid) == dict(anew.not_laid)


def test_windows_are_given_up_in_some_of_them() -> None:
    given_up = sum(
        bool(lay(drawn(seed, 25), _WORKTIME, people=1, booths=1).missed) for seed in range(40)
    )
    assert given_up > 3
