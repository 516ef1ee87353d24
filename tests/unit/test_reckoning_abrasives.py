import math
from fractions import Fraction
from itertools import combinations, pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.errors import ReckoningError
from engine.reckoning.abrasives import (
    Grade,
    Grades,
    NumberRule,
    RatioRule,
    Scale,
    furthest,
    grades_from_tables,
    grain_ratio,
    parse_grade,
    sequence,
)
from engine.ruleset import load_ruleset
from engine.supplied import supplied_ruleset_folder
from tests.unit.rules_by_hand import table

TABLES = load_ruleset(supplied_ruleset_folder(), with_cases=False).tables
GRADES = grades_from_tables(TABLES["abrasives.p-grades"], TABLES["abrasives.cami-grades"])
LADDER = GRADES.p_ladder
NUMBERS = NumberRule(max_number_jump=100, coarse_up_to=320, max_grades_when_fine=2)


def p(number):
    return Grade(Scale.P, number)


@pytest.mark.parametrize(
    ("text", "grade"),
    [
        ("P400", p(400)),
        (" p400 ", p(400)),
        ("p 400", p(400)),
        ("P-400 grit", p(400)),
        ("P400 grade", p(400)),
        ("CAMI 400", Grade(Scale.CAMI, 400)),
        ("cami400 grit", Grade(Scale.CAMI, 400)),
        ("400 grit CAMI", Grade(Scale.CAMI, 400)),
        ("400 cami", Grade(Scale.CAMI, 400)),
    ],
)
def test_grades_as_people_write_them(text, grade):
    assert parse_grade(text) == grade


@given(st.sampled_from(list(Scale)), st.integers(1, 99_999))
def test_a_printed_grade_reads_back(scale, number):
    grade = Grade(scale, number)
    assert parse_grade(str(grade)) == grade


@pytest.mark.parametrize("text", ["400", "400 grit", "400-grit"])
def test_a_bare_number_is_asked_back(text):
    with pytest.raises(ReckoningError, match="could be P400 or CAMI 400"):
        parse_grade(text)


@pytest.mark.parametrize("text", ["", "fine", "P0", "P-", "P400.5", "P1234567", None, 400])
def test_what_is_no_grade_is_refused(text):
    with pytest.raises(ReckoningError, match="is not an abrasive grade"):
        parse_grade(text)


def test_cami_grades_stand_near_a_p_grade():
    assert GRADES.as_p(Grade(Scale.CAMI, 600)) == p(1200)
    own = Grades({p(400): 35, p(500): 30, Grade(Scale.CAMI, 360): 29})
    assert own.as_p(Grade(Scale.CAMI, 360)) == p(500)


def test_an_unknown_grade_is_told_with_the_nearest():
    with pytest.raises(
        ReckoningError, match=r"P410 is not in the table of abrasives\. Did you mean"
    ):
        GRADES.median_um(p(410))


@given(st.sampled_from(LADDER), st.sampled_from(LADDER))
def test_ratio_of_two_grades(a, b):
    coarse, fine = sorted((a, b), key=lambda g: g.number)
    assert grain_ratio(coarse, fine, GRADES) >= 1
    if a != b:
        with pytest.raises(ReckoningError, match="sand from coarse to fine"):
            grain_ratio(fine, coarse, GRADES)


def test_a_step_exactly_on_the_ratio_passes():
    grades = Grades({p(80): 200, p(180): 80})
    assert RatioRule(Fraction(5, 2)).step(p(80), p(180), grades).ok
    assert not RatioRule(2.49).step(p(80), p(180), grades).ok


def test_a_step_by_number_changes_rule_where_fine_begins():
    assert NUMBERS.step(p(80), p(180), GRADES).ok
    assert not NUMBERS.step(p(80), p(220), GRADES).ok
    assert NUMBERS.step(p(1000), p(1500), GRADES).ok
    assert not NumberRule(100, 1000, 2).step(p(1000), p(1500), GRADES).ok


def _every_way(start, finish, ok):
    between = [g for g in LADDER if start.number < g.number < finish.number]
    for count in range(len(between) + 1):
        ways = [
            (start, *chosen, finish)
            for chosen in combinations(between, count)
            if all(ok(a, b) for a, b in pairwise((start, *chosen, finish)))
        ]
        if ways:
            return ways
    return []


def _unevenness(way):
    return sum(math.log(grain_ratio(a, b, GRADES)) ** 2 for a, b in pairwise(way))


@pytest.mark.parametrize("rule", [RatioRule(2.5), RatioRule(1.6), NUMBERS], ids=str)
@pytest.mark.parametrize(
    ("start", "finish"), [(36, 500), (80, 320), (40, 180), (80, 800), (320, 3000), (400, 500)]
)
def test_a_sequence_is_the_shortest_and_most_even_of_all_ways(rule, start, finish):
    ways = _every_way(p(start), p(finish), lambda a, b: rule.step(a, b, GRADES).ok)
    found = sequence(p(start), p(finish), GRADES, rule=rule)
    assert found in ways
    assert _unevenness(found) == pytest.approx(min(map(_unevenness, ways)))


@given(
    st.sampled_from(LADDER),
    st.sampled_from(LADDER),
    st.fractions(Fraction(11, 10), 5, max_denominator=20),
)
def test_a_sequence_never_steps_too_far(a, b, limit):
    start, finish = sorted((a, b), key=lambda g: g.number)
    try:
        found = sequence(start, finish, GRADES, rule=RatioRule(limit))
    except ReckoningError:
        gaps = [
            grain_ratio(c, f, GRADES)
            for c, f in pairwise(LADDER)
            if start.number <= c.number and f.number <= finish.number
        ]
        assert max(gaps) > limit
        return
    assert found[0] == start
    assert found[-1] == finish
    assert all(grain_ratio(c, f, GRADES) <= limit for c, f in pairwise(found))


@given(st.sampled_from(LADDER), st.sampled_from(LADDER))
def test_a_sequence_by_number_never_steps_too_far(a, b):
    start, finish = sorted((a, b), key=lambda g: g.number)
    found = sequence(start, finish, GRADES, rule=NUMBERS)
    assert all(NUMBERS.step(c, f, GRADES).ok for c, f in pairwise(found))


def test_a_sequence_to_itself_is_one_grade():
    assert sequence(p(400), p(400), GRADES, rule=NUMBERS) == (p(400),)


def test_a_sequence_may_start_from_a_cami_sheet():
    found = sequence(Grade(Scale.CAMI, 80), p(320), GRADES, rule=RatioRule(2.5))
    assert found[0] == Grade(Scale.CAMI, 80)
    assert found[-1] == p(320)


def test_a_shop_s_stock_limits_the_choice():
    stocked = GRADES.only([p(80), p(150), p(240), p(320)])
    found = sequence(p(80), p(320), stocked, rule=RatioRule(2.5))
    assert found == (p(80), p(150), p(320))


def test_a_gap_in_the_stock_is_told():
    stocked = GRADES.only([p(80), p(320), p(400)])
    with pytest.raises(ReckoningError) as caught:
        sequence(p(80), p(400), stocked, rule=RatioRule(2.5))
    assert "after P80 the next grade to choose from is P320" in str(caught.value)
    assert "a grain ratio of at most 2.5" in str(caught.value)


def test_a_poor_stock_makes_no_step_smaller():
    stocked = GRADES.only([p(400), p(2000)])
    assert NUMBERS.step(p(400), p(2000), stocked) == NUMBERS.step(p(400), p(2000), GRADES)
    assert NUMBERS.step(p(400), p(2000), stocked).taken == 7
    with pytest.raises(ReckoningError, match="no way from P400 to P2000"):
        sequence(p(400), p(2000), stocked, rule=NUMBERS)


def test_cami_sheets_in_stock_are_chosen_among():
    cami = Grade(Scale.CAMI, 150)
    stocked = GRADES.only([p(80), cami, Grade(Scale.CAMI, 320)])
    found = sequence(p(80), Grade(Scale.CAMI, 320), stocked, rule=RatioRule(3))
    assert found == (p(80), cami, Grade(Scale.CAMI, 320))


def test_a_grade_nobody_makes_is_no_stock():
    with pytest.raises(ReckoningError, match="P410 is not in the table"):
        GRADES.only([p(80), p(410)])


def test_what_a_rule_measures_of_a_step():
    step = RatioRule(2.5).step(p(80), p(180), GRADES)
    assert (step.taken, step.most, step.of) == (Fraction(201, 82), Fraction(5, 2), "grain ratio")
    coarse = NUMBERS.step(p(80), p(240), GRADES)
    assert (coarse.taken, coarse.most, coarse.of, coarse.ok) == (160, 100, "numbers", False)
    fine = NUMBERS.step(p(400), p(600), GRADES)
    assert (fine.taken, fine.most, fine.of, fine.ok) == (2, 2, "grades", True)


@pytest.mark.parametrize("rule", [RatioRule(2.5), RatioRule(1.2), NUMBERS], ids=str)
@pytest.mark.parametrize("start", LADDER, ids=str)
def test_the_furthest_grade_is_the_finest_that_is_near_enough(rule, start):
    found = furthest(start, GRADES, rule=rule)
    finer = LADDER[LADDER.index(start) + 1 :]
    near = [each for each in finer if rule.step(start, each, GRADES).ok]
    assert found == (near[-1] if near else None)


def test_a_sequence_does_not_run_backwards():
    with pytest.raises(ReckoningError, match=r"P80 .* is coarser than P320"):
        sequence(p(320), p(80), GRADES, rule=NUMBERS)


def test_equal_grain_under_two_names_is_one_step():
    found = sequence(Grade(Scale.CAMI, 600), p(1200), GRADES, rule=RatioRule(2))
    assert found == (Grade(Scale.CAMI, 600), p(1200))


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: RatioRule(1), "max_ratio must be more than 1"),
        (lambda: RatioRule(None), "max_ratio is missing"),
        (lambda: NumberRule(0, 320, 2), "max_number_jump must be more than 0"),
        (lambda: NumberRule(100, 320, 1.5), "must be a whole number"),
        (lambda: Grades({}), "holds no P grade"),
        (lambda: Grades({p(80): 100, p(100): 100}), "not finer than P80"),
        (lambda: Grades({p(80): 0}), "median grain of P80 must be more than 0"),
        (
            lambda: Grades({p(80): 200}, {Grade(Scale.CAMI, 80): p(100)}),
            "put near P100, which the table does not hold",
        ),
        (
            lambda: grades_from_tables(table(["grade"], [["P80"]]), None),
            "lacks the column median-um",
        ),
        (
            lambda: grades_from_tables(
                table(["grade", "median-um"], [["P80", 201], ["P80", 197]]), None
            ),
            "gives P80 twice",
        ),
        (
            lambda: grades_from_tables(table(["grade", "median-um"], [["80", 201]]), None),
            "could be P80 or CAMI 80",
        ),
    ],
)
def test_impossible_tables_and_rules_are_refused(call, says):
    with pytest.raises(ReckoningError, match=says):
        call()
