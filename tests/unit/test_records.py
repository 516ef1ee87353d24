"""The quick frozen classes are held to be those of the standard library, in everything used."""

from __future__ import annotations

import copy
import dataclasses
import inspect
import pickle
from typing import Any, ClassVar

import pytest

from engine import records
from engine.quantity import Kind
from engine.ruleset.work import Span


class _Plain:
    a: int
    b: tuple[str, ...] = ()
    c: list[int] = dataclasses.field(default_factory=list, compare=False)
    d: float = dataclasses.field(default=1.5, repr=False)

    def doubled(self) -> int:
        return self.a * 2


class _Checked:
    low: int
    high: int

    def __post_init__(self) -> None:
        if self.low > self.high:
            raise ValueError("low is above high")


class _One:
    only: object


class _None:
    pass


def both(cls: type) -> tuple[Any, Any]:
    def of(decorate: Any) -> Any:
        space = {
            name: value
            for name, value in vars(cls).items()
            if name not in ("__dict__", "__weakref__")
        }
        return decorate(frozen=True, slots=True)(type(cls.__name__, (), space))

    return of(records.dataclass), of(dataclasses.dataclass)


def test_it_is_made_here_and_not_by_the_library() -> None:
    ours, theirs = both(_Plain)
    assert ours.__eq__.__code__.co_filename == records.__file__
    assert theirs.__eq__.__code__.co_filename != records.__file__


@pytest.mark.parametrize(
    ("cls", "args", "kwargs"),
    [
        (_Plain, (1,), {}),
        (_Plain, (1, ("x",)), {"d": 2.0}),
        (_Plain, (), {"a": 3, "c": [4]}),
        (_Checked, (1, 2), {}),
        (_One, (None,), {}),
        (_None, (), {}),
    ],
)
def test_objects_are_alike(cls: type, args: tuple[Any, ...], kwargs: dict[str, Any]) -> None:
    ours, theirs = both(cls)
    mine, its = ours(*args, **kwargs), theirs(*args, **kwargs)
    assert repr(mine) == repr(its)
    assert dataclasses.asdict(mine) == dataclasses.asdict(its)
    assert mine == ours(*args, **kwargs)
    assert mine != its
    assert hash(mine) == hash(ours(*args, **kwargs)) == hash(its)
    assert ours.__match_args__ == theirs.__match_args__
    assert ours.__slots__ == theirs.__slots__
    assert not hasattr(mine, "__dict__")
    assert dataclasses.is_dataclass(mine)
    named = [(each.name, each.default) for each in dataclasses.fields(mine)]
    assert named == [(each.name, each.default) for each in dataclasses.fields(its)]
    assert dataclasses.replace(mine) == mine
    assert copy.copy(mine) == mine == copy.deepcopy(mine)
    assert mine.__getstate__() == its.__getstate__()
    assert inspect.signature(type(mine)).parameters.keys() == (
        inspect.signature(type(its)).parameters.keys()
    )


def test_what_is_not_compared_or_shown() -> None:
    ours, _ = both(_Plain)
    assert ours(1, c=[1]) == ours(1, c=[2])
    assert ours(1, d=1.0) != ours(1, d=2.0)
    assert ours(1).c is not ours(1).c
    assert ours(2).doubled() == 4


@pytest.mark.parametrize(
    ("cls", "args", "kwargs"),
    [
        (_Plain, (), {}),
        (_Plain, (1, (), [], 1.0, 2), {}),
        (_Plain, (1,), {"unheard": 1}),
        (_Checked, (2, 1), {}),
    ],
)
def test_what_one_refuses_the_other_does(
    cls: type, args: tuple[Any, ...], kwargs: dict[str, Any]
) -> None:
    for made in both(cls):
        with pytest.raises((TypeError, ValueError)) as found:
            made(*args, **kwargs)
        assert found.type is (ValueError if cls is _Checked else TypeError)


def test_nothing_can_be_set_or_taken_away() -> None:
    for made in both(_Plain):
        each = made(1)
        with pytest.raises(dataclasses.FrozenInstanceError, match="cannot assign to field 'a'"):
            each.a = 2
        with pytest.raises(dataclasses.FrozenInstanceError, match="cannot delete field 'a'"):
            del each.a
        # The library of Python 3.11 stumbles over its own slots here, and refuses in other words.
        with pytest.raises((dataclasses.FrozenInstanceError, TypeError)):
            each.unheard = 2


def test_pickled_and_replaced() -> None:
    span = Span(1, 2)  # type: ignore[arg-type]
    assert pickle.loads(pickle.dumps(span)) == span
    assert dataclasses.replace(span, high=3) == Span(1, 3)  # type: ignore[arg-type]
    with pytest.raises(TypeError):
        dataclasses.replace(span, unheard=Kind.TIME)  # type: ignore[call-arg]


def test_what_is_more_than_plain_goes_to_the_library() -> None:
    @records.dataclass(frozen=True, slots=True)
    class Base:
        a: int

    @records.dataclass(frozen=True, slots=True)
    class Derived(Base):
        b: int = 0

    @records.dataclass(frozen=True, slots=True, order=True)
    class Ordered:
        a: int

    @records.dataclass(frozen=True, slots=True)
    class Counted:
        a: int
        count: ClassVar[int] = 3

    assert Derived(1, 2) == Derived(1, 2) != Derived(1, 3)
    assert [each.name for each in dataclasses.fields(Derived)] == ["a", "b"]
    assert Ordered(1) < Ordered(2)
    assert Counted(1).count == 3
    with pytest.raises(dataclasses.FrozenInstanceError):
        Derived(1).b = 2  # type: ignore[misc]
    with pytest.raises(ValueError, match="mutable default"):

        @records.dataclass(frozen=True, slots=True)
        class Mutable:
            a: list[int] = []  # noqa: RUF012
