"""What a survey says of a film's past, against published data and independent computations.

Sources: R. A. Fisher, The use of multiple measurements in taxonomic problems, 1936 (petal lengths,
from memory; their printed means hold the memory to account); single-linkage clustering as scipy
has it, run here, since cutting its tree in two is cutting at the largest gap; W. D. Fisher, On
grouping for maximum homogeneity, 1958 (the best split in two, from memory, tried out cut by cut);
Rosner's test rebuilt here on numpy and scipy's Student t. What a film of so many mil means is
common practice, no source; so are the limits, which come from the rule set.
"""

from __future__ import annotations

import random
import statistics
from collections.abc import Sequence
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from scipy import stats
from scipy.cluster.hierarchy import fcluster, linkage

from engine.facts import JobFacts, Told
from engine.reasoning.decide import inquiry_for
from engine.reasoning.evaluate import evaluate
from engine.reckoning.history import film_history
from engine.reckoning.outliers import odd_spots, two_groups
from engine.reckoning.survey import survey
from engine.ruleset import load_ruleset
from engine.supplied import supplied_ruleset_folder

RULESET = load_ruleset(supplied_ruleset_folder(), with_cases=False)
PROGRAM = inquiry_for(RULESET).program
MIL = Fraction(254, 10)


def limit(name: str) -> Fraction:
    return RULESET.limits[name].amount


def history(um: Sequence[Any]) -> Any:
    return film_history(
        survey([Fraction(str(each)) for each in um]),
        thin_below=limit("film.thin-below"),
        factory_high=limit("film.factory-high"),
        spread_limit=limit("film.spread-limit"),
        gap_limit=limit("film.gap-limit"),
        gap_ratio=limit("film.gap-ratio"),
        alpha=limit("film.grubbs-significance") / 100,
        fewest_spots=int(limit("film.spots-for-history")),
        fewest_for_odd=int(limit("film.spots-for-odd")),
        odd_percent=limit("film.odd-share"),
        odd_departure=limit("film.odd-departure"),
    )


# --- two groups -----------------------------------------------------------------------------------

# Fisher 1936, petal length in cm and how many flowers had it.
SETOSA = {1.0: 1, 1.1: 1, 1.2: 2, 1.3: 7, 1.4: 13, 1.5: 13, 1.6: 7, 1.7: 4, 1.9: 2}
VERSICOLOR = {
    3.0: 1, 3.3: 2, 3.5: 2, 3.6: 1, 3.7: 1, 3.8: 1, 3.9: 3, 4.0: 5, 4.1: 3, 4.2: 4, 4.3: 2, 4.4: 4,
    4.5: 7, 4.6: 3, 4.7: 5, 4.8: 2, 4.9: 2, 5.0: 1, 5.1: 1,
}  # fmt: skip


def flowers(counts: dict[float, int]) -> list[float]:
    return [length for length, count in counts.items() for _ in range(count)]


@pytest.mark.parametrize(("counts", "mean"), [(SETOSA, 1.462), (VERSICOLOR, 4.260)])
def test_petals_remembered_have_the_means_fisher_prints(
    counts: dict[float, int], mean: float
) -> None:
    assert len(flowers(counts)) == 50
    assert statistics.fmean(flowers(counts)) == pytest.approx(mean, abs=1e-9)


def test_two_kinds_of_iris_are_two_groups() -> None:
    """Fisher 1936: no petal of one kind is as long as the shortest of the other."""
    mixed = flowers(SETOSA) + flowers(VERSICOLOR)
    random.Random(36).shuffle(mixed)
    found = two_groups(mixed, spread_limit=100, gap_limit=1, gap_ratio=4)
    assert found.gap_over
    assert float(found.largest_gap) == pytest.approx(3.0 - 1.9)
    assert sorted(mixed[place] for place in found.low) == sorted(flowers(SETOSA))
    assert sorted(mixed[place] for place in found.high) == sorted(flowers(VERSICOLOR))


@pytest.mark.parametrize("kind", [SETOSA, VERSICOLOR])
def test_one_kind_of_iris_is_one_group(kind: dict[float, int]) -> None:
    assert not two_groups(flowers(kind), spread_limit=100, gap_limit=1, gap_ratio=4).gap_over


def readings(seed: int) -> list[float]:
    source = random.Random(seed)
    films = [source.uniform(60, 400) for _ in range(source.choice([1, 2, 3]))]
    count = source.randint(3, 25)
    # A thousandth apart at the least, lest two largest gaps tie.
    return [round(source.gauss(source.choice(films), 8) + 0.001 * n, 6) for n in range(count)]


@pytest.mark.parametrize("seed", range(40))
def test_the_groups_are_those_of_single_linkage(seed: int) -> None:
    values = readings(seed)
    found = two_groups(values, spread_limit=0, gap_limit=0, gap_ratio=0)
    tree = linkage(np.array(values).reshape(-1, 1), method="single")
    assert float(found.largest_gap) == pytest.approx(tree[-1, 2], rel=1e-9)
    named = fcluster(tree, 2, criterion="maxclust")
    lowest = named[int(np.argmin(values))]
    assert set(found.low) == {place for place, group in enumerate(named) if group == lowest}
    assert float(found.median_gap) == pytest.approx(float(np.median(np.diff(np.sort(values)))))
    assert float(found.spread) == pytest.approx(float(np.ptp(values)))


def best_split(values: Sequence[float]) -> tuple[list[float], list[float]]:
    """The two groups with the least sum of squares about their own means, by trying each cut."""
    ordered = sorted(values)
    cuts = [(ordered[:at], ordered[at:]) for at in range(1, len(ordered))]
    return min(cuts, key=lambda cut: sum(np.var(part) * len(part) for part in cut))


@pytest.mark.parametrize("seed", range(20))
def test_a_panel_painted_in_part_is_split_where_it_is_most_even(seed: int) -> None:
    source = random.Random(1000 + seed)
    kept = [source.gauss(115, 4) for _ in range(source.randint(3, 8))]
    painted = [source.gauss(240, 6) for _ in range(source.randint(3, 8))]
    values = [round(each, 3) for each in kept + painted]
    found = two_groups(
        values,
        spread_limit=limit("film.spread-limit"),
        gap_limit=limit("film.gap-limit"),
        gap_ratio=limit("film.gap-ratio"),
    )
    low, high = best_split(values)
    assert found.divided
    assert sorted(values[place] for place in found.low) == low
    assert sorted(values[place] for place in found.high) == high


def test_masking_worked_by_hand_is_seen_by_the_gap() -> None:
    """Derived: 4.6, 4.7, 4.5 and 9.6, 9.8, 9.7 mil lie 4.9 mil apart, their usual gap is 0.1."""
    mil = [Fraction(text) for text in ("4.6", "4.7", "4.5", "9.6", "9.8", "9.7")]
    found = two_groups([each * MIL for each in mil], spread_limit=10**6, gap_limit=MIL, gap_ratio=4)
    assert found.gap_over
    assert (found.largest_gap, found.median_gap) == (Fraction("4.9") * MIL, Fraction("0.1") * MIL)


# --- odd spots ------------------------------------------------------------------------------------


def rosner(values: Sequence[float], alpha: float, at_most: int) -> set[int]:
    """Rosner's test as the NIST/SEMATECH e-Handbook 1.3.5.17.3 gives it (from memory)."""
    left = list(range(len(values)))
    taken: list[int] = []
    count = 0
    for step in range(1, at_most + 1):
        rest = np.array([values[place] for place in left])
        away = np.abs(rest - rest.mean())
        statistic = away.max() / rest.std(ddof=1)
        n = len(left)
        t = stats.t.ppf(1 - alpha / (2 * n), n - 2)
        critical = (n - 1) * t / np.sqrt((n - 2 + t * t) * n)
        taken.append(left.pop(int(away.argmax())))
        if statistic > critical:
            count = step
    return set(taken[:count])


def panel_with_odd_spots(seed: int) -> list[float]:
    source = random.Random(seed)
    film = [source.gauss(130, 3) for _ in range(source.randint(7, 15))]
    film += [
        source.choice([60, 250, 400]) + source.gauss(0, 5) for _ in range(source.randint(0, 2))
    ]
    return [round(each, 2) for each in film]


@pytest.mark.parametrize("seed", range(40))
def test_odd_spots_are_those_of_a_rebuilt_test(seed: int) -> None:
    film = panel_with_odd_spots(seed)
    share, departure = limit("film.odd-share"), float(limit("film.odd-departure"))
    at_most = max(1, int(float(share) * len(film) / 100))
    middle = statistics.median(film)
    expected = {
        place for place in rosner(film, 0.05, at_most) if abs(film[place] - middle) >= departure
    }
    found = odd_spots(
        film,
        alpha=limit("film.grubbs-significance") / 100,
        at_least=int(limit("film.spots-for-odd")),
        at_most_percent=share,
        departure=limit("film.odd-departure"),
    )
    assert set(found) == expected


# --- the kind of film -----------------------------------------------------------------------------


# Common practice, no source: what films in mil are taken for.
@pytest.mark.parametrize(
    ("mil", "kind"),
    [
        ((4.5, 4.7, 4.6, 4.8, 4.6), "factory-like"),
        ((4.0, 4.2, 4.1), "factory-like"),
        ((6.9, 7.0, 6.8), "factory-like"),
        ((2.6, 2.8, 2.7, 2.9), "factory-like"),
        ((9.0, 9.2, 9.4, 9.1), "repainted"),
        ((7.1, 7.3, 7.2), "repainted"),
        ((11.2, 11.4, 11.3), "repainted"),
        ((1.2, 1.4, 1.3), "thin"),
        ((1.9, 1.8, 1.9), "thin"),
        ((4.6, 4.7, 4.5, 9.6, 9.8, 9.7), "mixed"),
        ((4.6, 4.8, 4.7, 4.9, 4.5, 4.7, 9.8), "mixed"),
        ((5.0, 5.2, 21.0, 5.1), "mixed"),
    ],
)
def test_what_a_film_is_taken_for(mil: tuple[float, ...], kind: str) -> None:
    assert history([Fraction(str(each)) * MIL for each in mil]).kind == kind


def judged(um: Sequence[float]) -> str:
    """The kind of film, reckoned apart from the project on numpy and scipy."""
    mil = np.array(um) / 25.4
    gaps = np.diff(np.sort(mil))
    apart = gaps.max() > 1 and gaps.max() > 4 * np.median(gaps)
    odd: set[int] = set()
    if len(mil) >= 6:
        middle = np.median(mil)
        found = rosner(list(mil), 0.05, max(1, int(0.3 * len(mil))))
        odd = {place for place in found if abs(mil[place] - middle) >= 1}
    if np.ptp(mil) > 2 or apart or odd:
        return "mixed"
    if np.median(mil) < 2:
        return "thin"
    return "repainted" if np.median(mil) > 7 else "factory-like"


def test_random_panels_are_taken_for_what_numpy_and_scipy_make_of_them() -> None:
    seen: dict[str, int] = {}
    for seed in range(400):
        source = random.Random(seed)
        level = source.choice([35, 60, 115, 170, 190, 260])
        scatter = source.choice([1, 4, 9])
        film = [abs(source.gauss(level, scatter)) for _ in range(source.randint(3, 14))]
        if source.random() < 0.2:
            film[0] += source.choice([30, 90])
        film = [round(each, 3) for each in film]
        kind = judged(film)
        assert history(film).kind == kind, film
        seen[kind] = seen.get(kind, 0) + 1
    assert set(seen) == {"thin", "factory-like", "repainted", "mixed"}
    assert min(seen.values()) >= 20


# --- the same car's other panels ------------------------------------------------------------------


def beside_others(
    typical: dict[str, float], substrate: dict[str, str]
) -> dict[str, tuple[Fraction | None, object]]:
    """Each panel's offset from the others, and what is made of it, as a decision reckons both."""
    panels = {
        name: {
            "part": Told("original", ""),
            "substrate": Told(substrate[name], ""),
            "film.readings": Told(((Fraction(str(film)),),) * 3, ""),
        }
        for name, film in typical.items()
    }
    found = evaluate(PROGRAM, JobFacts("BM-7", panels=panels)).panels
    offset, call = PROGRAM.slots["film.offset"], PROGRAM.slots["film.beside-others"]
    return {name: (each.exact.get(offset), each.vector[call]) for name, each in found.items()}


@pytest.mark.parametrize("seed", range(20))
def test_a_panel_is_held_against_the_median_of_the_others(seed: int) -> None:
    source = random.Random(seed)
    kinds = {
        f"panel {n}": source.choice(["steel", "aluminium"]) for n in range(source.randint(2, 12))
    }
    typical = {name: round(source.uniform(80, 300), 1) for name in kinds}
    found = beside_others(typical, kinds)
    for name, mine in typical.items():
        others = [
            typical[other] for other in kinds if other != name and kinds[other] == kinds[name]
        ]
        offset, call = found[name]
        if len(others) < limit("film.panels-for-reference"):
            assert offset is None
            continue
        expected = mine - statistics.median(others)
        assert offset is not None
        assert float(offset) == pytest.approx(expected)
        apart = abs(round(expected, 6)) >= 30
        assert call == (("thicker" if expected > 0 else "thinner") if apart else "alike")


def test_thirty_micrometres_are_worth_a_look() -> None:
    """Common practice, no source: 10 to 15 um between panels is usual, 30 um asks for a look."""
    steel = dict.fromkeys("abc", "steel")
    usual = beside_others({"a": 120, "b": 130, "c": 135}, steel)
    asked = beside_others({"a": 120, "b": 122, "c": 151}, steel)
    assert [usual[name][1] for name in "abc"] == ["alike"] * 3
    assert [asked[name][1] for name in "abc"] == ["alike", "alike", "thicker"]
