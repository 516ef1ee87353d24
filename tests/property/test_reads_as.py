"""What replay takes to be the same without spelling it out is spelt the same."""

from __future__ import annotations

from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from engine.trail.canonical import canonical, parse, reads_as

LEAVES = (
    st.none()
    | st.booleans()
    | st.sampled_from([0, 1, 0.0, -0.0, 1.0, "1", "true", 2.5, 1e21, 2**53 - 1])
    | st.integers(-3, 3)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(max_size=3).filter(lambda text: text.isprintable())
)
VALUES = st.recursive(
    LEAVES,
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from("abc"), inner, max_size=3)
    ),
    max_leaves=8,
)


@given(VALUES, VALUES)
def test_the_same_is_spelt_the_same(one: Any, other: Any) -> None:
    if reads_as(parse(canonical(one)), other):
        assert canonical(one) == canonical(other)


@given(VALUES)
def test_a_value_reads_as_itself(value: Any) -> None:
    assert reads_as(parse(canonical(value)), value) or not small(value)


def small(value: Any) -> bool:
    """Whether every number in it is one that JSON readers agree on."""
    if isinstance(value, dict):
        return all(map(small, value.values()))
    if isinstance(value, list):
        return all(map(small, value))
    return not isinstance(value, int | float) or abs(value) < 2**53


def test_true_is_not_one() -> None:
    assert not reads_as({"open": [1]}, {"open": [True]})
    assert not reads_as({"open": [True]}, {"open": [1.0]})
    assert reads_as({"open": [1]}, {"open": [1.0]})
