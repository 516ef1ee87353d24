"""Spans add and multiply end by end, whichever way is taken for exact ones and for nothing."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.ruleset.work import NOTHING, Span

ENDS = st.fractions(min_value=-5, max_value=5, max_denominator=12)
SPANS = st.one_of(
    ENDS.map(Span.exactly),
    st.tuples(ENDS, ENDS).map(lambda ends: Span(min(ends), max(ends))),
    st.just(NOTHING),
)


@given(SPANS, SPANS)
def test_added_end_by_end(one: Span, other: Span) -> None:
    added = one + other
    assert (added.low, added.high) == (one.low + other.low, one.high + other.high)


@given(SPANS, st.one_of(st.integers(0, 9), st.fractions(min_value=0, max_value=9)))
def test_multiplied_end_by_end(span: Span, factor: Fraction | int) -> None:
    taken = span.times(factor)
    assert (taken.low, taken.high) == (span.low * factor, span.high * factor)


def test_never_from_high_to_low() -> None:
    with pytest.raises(ValueError, match="from low to high"):
        Span(Fraction(2), Fraction(1))
