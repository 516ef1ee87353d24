"""Reckoned facts inside a program: gathering what a reckoner reads, and keeping what came of it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction
from typing import Any, Protocol

from engine.errors import ReckoningError
from engine.reasoning.kleene import NOT_APPLICABLE, OPEN, UNSURE, State
from engine.reckoning.memory import ByIdentity
from engine.reckoning.others import Kin, Others
from engine.reckoning.reckoners import Given, Reckoned, Reckoner, StillOpen
from engine.records import dataclass
from engine.ruleset.model import RuleSet


class Sheet(Protocol):
    """The states and exact values of one subject, by slot."""

    @property
    def vector(self) -> Sequence[State]: ...
    @property
    def exact(self) -> Mapping[int, Any]: ...


@dataclass(frozen=True, slots=True)
class Worked:
    """What came of a reckoning: a state, the exact value where it is known, why it failed."""

    state: State
    exact: Reckoned | None = None
    failure: str | None = None


_OPEN = Worked(OPEN)
_NOT_APPLICABLE = Worked(NOT_APPLICABLE)

_LONGEST_KEPT = 256
"""Inputs past which a result is not kept: with so many panels the keys would fill the memory."""

_Inputs = tuple[tuple[str, int], ...]


class Sorted:
    """Panels by what makes them compare, as one reckoning asks it.

    `places` has the kin of a panel and its place there, by identity; `loose` what is known of
    panels that may yet turn out to compare.
    """

    def __init__(self) -> None:
        self.kins: dict[tuple[State, ...], Kin] = {}
        self.places: dict[int, tuple[Kin, int]] = {}
        self.loose: set[tuple[State, ...]] = set()

    def may_compare(self, alike: tuple[State, ...]) -> bool:
        """Whether a loose panel may turn out to compare with one of these states."""
        return any(
            all(_unknown(its) or its == mine for its, mine in zip(known, alike, strict=True))
            for known in self.loose
        )


class Reckoning:
    """One reckoned fact of a program. The same inputs are worked out once."""

    def __init__(self, reckoner: Reckoner, slots: Mapping[str, int], ruleset: RuleSet) -> None:
        self._reckoner = reckoner
        self._ruleset = ruleset
        self._reads = _placed(reckoner.reads, slots)
        self._needed = tuple(slot for _, slot in self._reads)
        self._also = _placed((read for read in reckoner.also if read in slots), slots)
        self._panels = _placed(reckoner.panels, slots)
        self._alike = tuple(slots[read] for read in reckoner.alike)
        self._names = (*reckoner.reads, *(read for read, _ in self._also))
        self._kept: ByIdentity[Worked] = ByIdentity()

    @property
    def compares(self) -> bool:
        """Whether it reads other panels."""
        return bool(self._panels)

    def work_out(self, own: Sheet, car: Sheet | None, others: Iterable[Sheet]) -> Worked:
        """The fact for the subject `own`; `others` are the other panels.

        A panel sees facts of the car through `car`.
        """
        key = self._inputs(own, car, others)
        if isinstance(key, Worked):
            return key
        if len(key) > _LONGEST_KEPT:
            return self._compute(key)
        worked = self._kept.get(key)
        return self._kept.put(key, self._compute(key)) if worked is None else worked

    @property
    def sorts(self) -> bool:
        """Whether `sorted_out` serves: a panel that lacks what is compared is not compared."""
        return bool(self._panels) and {*self._panels} <= {*self._reads}

    def sorted_out(self, panels: Iterable[Sheet], car: Sheet | None) -> Sorted:
        """All panels by what makes them compare; worth it where they are many."""
        found = Sorted()
        for panel in panels:
            states = [panel.vector[slot] for _, slot in self._panels]
            if NOT_APPLICABLE in states:
                continue
            alike = tuple(panel.vector[slot] for slot in self._alike)
            if any(map(_unknown, (*states, *alike))):
                found.loose.add(alike)
                continue
            kin = found.kins.setdefault(alike, Kin())
            found.places[id(panel)] = kin, len(kin.members)
            kin.members.append({name: _exact(slot, panel, car) for name, slot in self._panels})
        return found

    def work_out_sorted(self, own: Sheet, car: Sheet | None, panels: Sorted) -> Worked:
        """As `work_out`, beside panels that were sorted out, `own` among them."""
        inputs = self._inputs(own, car, ())
        if isinstance(inputs, Worked):
            return inputs
        if panels.may_compare(tuple(own.vector[slot] for slot in self._alike)):
            return _OPEN
        return self._compute(inputs, Others(*panels.places[id(own)]))

    def given(self, own: Sheet, car: Sheet | None, others: Iterable[Sheet]) -> Given | None:
        """What the reckoner is given for `own`; None where it cannot be worked out yet."""
        key = self._inputs(own, car, others)
        return None if isinstance(key, Worked) else self._given(key)

    def _inputs(
        self, own: Sheet, car: Sheet | None, others: Iterable[Sheet]
    ) -> tuple[Any, ...] | Worked:
        vector, exact = own.vector, own.exact
        of_car: Mapping[int, Any] = {} if car is None else car.exact
        inputs: list[Any] = []
        is_open = False
        for slot in self._needed:
            state = vector[slot]
            if state is NOT_APPLICABLE:
                return _NOT_APPLICABLE
            if state is OPEN or state is UNSURE:
                is_open = True
            # The exact value where there is one, else the state: a choice or a mark.
            elif (known := exact.get(slot)) is not None or (known := of_car.get(slot)) is not None:
                inputs.append(known)
            else:
                inputs.append(state)
        if is_open:
            return _OPEN
        inputs += [_exact(slot, own, car) for _, slot in self._also]
        if self._panels:
            for other in others:
                if not self.counts(own, other):
                    continue
                states = [other.vector[slot] for _, slot in self._panels]
                if OPEN in states or UNSURE in states or self._may_differ(own, other):
                    return _OPEN
                inputs += [_exact(slot, other, car) for _, slot in self._panels]
        return tuple(inputs)

    def counts(self, own: Sheet, other: Sheet) -> bool:
        """Whether another panel is, or may yet be, one that compares with this one."""
        for slot in self._alike:
            mine, its = own.vector[slot], other.vector[slot]
            if not _unknown(mine) and not _unknown(its) and its != mine:
                return False
        return all(other.vector[slot] is not NOT_APPLICABLE for _, slot in self._panels)

    def _may_differ(self, own: Sheet, other: Sheet) -> bool:
        return any(other.vector[slot] != own.vector[slot] for slot in self._alike)

    def _compute(self, inputs: tuple[Any, ...], others: Others | None = None) -> Worked:
        try:
            value = self._reckoner.compute(self._given(inputs, others))
        except StillOpen:
            return _OPEN
        except ReckoningError as error:
            return Worked(OPEN, failure=error.format_message())
        if value is None:
            return _NOT_APPLICABLE
        return Worked(float(value) if type(value) is Fraction else value, value)

    def _given(self, inputs: tuple[Any, ...], others: Others | None = None) -> Given:
        # What is needed is known once it comes here; only the rest may be open.
        needed = len(self._needed)
        values: dict[str, Any] = dict(zip(self._names, inputs[:needed], strict=False))
        if others is None and len(inputs) == needed:
            return Given(values, self._ruleset, _NONE, _NONE, ())
        open_: list[str] = []
        unsure: list[str] = []
        for name, value in zip(self._names[needed:], inputs[needed:], strict=False):
            if value is OPEN:
                open_.append(name)
            elif value is UNSURE:
                unsure.append(name)
            elif value is not NOT_APPLICABLE:
                values[name] = value
        if others is not None:
            return Given(values, self._ruleset, frozenset(open_), frozenset(unsure), others)
        rest = inputs[len(self._names) :]
        width = len(self._panels) or 1
        panels = tuple(
            {name: rest[start + place] for place, (name, _) in enumerate(self._panels)}
            for start in range(0, len(rest), width)
        )
        return Given(values, self._ruleset, frozenset(open_), frozenset(unsure), panels)


_NONE = frozenset[str]()


def _unknown(state: State) -> bool:
    return state is OPEN or state is UNSURE


def _placed(reads: Iterable[str], slots: Mapping[str, int]) -> _Inputs:
    return tuple((read, slots[read]) for read in reads)


def _exact(slot: int, own: Sheet, car: Sheet | None) -> Any:
    """The exact value where there is one, else the state: a choice or a mark."""
    state = own.vector[slot]
    if _unknown(state) or state is NOT_APPLICABLE:
        return state
    known = own.exact.get(slot)
    if known is None and car is not None:
        known = car.exact.get(slot)
    return state if known is None else known
