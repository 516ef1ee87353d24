"""How much of something is taken when: people, booths, a panel."""

from __future__ import annotations

from bisect import bisect_left, bisect_right


class Occupancy:
    """Something of which only `capacity` can be taken at once, over minutes counted from 0.

    Kept as levels: from each of `_times` to the next, `_taken` of it is taken. The last level goes
    on for ever and is 0.
    """

    __slots__ = ("_taken", "_times", "capacity")

    def __init__(self, capacity: int) -> None:
        self.capacity = capacity
        self._times = [0]
        self._taken = [0]

    def free_again(self, start: int, end: int, amount: int) -> int | None:
        """None where `amount` is free from `start` to `end`; else when the first shortage is over.

        `amount` must not be over the capacity.
        """
        if start >= end:
            return None
        room = self.capacity - amount
        times, taken = self._times, self._taken
        at = bisect_right(times, start) - 1
        last = bisect_left(times, end)
        while at < last:
            if taken[at] > room:
                while taken[at] > room:
                    at += 1
                return times[at]
            at += 1
        return None

    def take(self, start: int, end: int, amount: int) -> None:
        """Take `amount` from `start` to `end`."""
        if start >= end:
            return
        first, last = self._level_at(start), self._level_at(end)
        for at in range(first, last):
            self._taken[at] += amount

    def _level_at(self, minute: int) -> int:
        """The index of the level that begins at a minute, made where there is none."""
        at = bisect_left(self._times, minute)
        if at == len(self._times) or self._times[at] != minute:
            self._times.insert(at, minute)
            self._taken.insert(at, self._taken[at - 1])
        return at
