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

    def copy(self) -> Occupancy:
        """The same taken, to go on from without touching this one."""
        copied = Occupancy(self.capacity)
        copied._times = self._times.copy()
        copied._taken = self._taken.copy()
        return copied

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
        times, taken = self._times, self._taken
        first = bisect_left(times, start)
        if first == len(times) or times[first] != start:
            times.insert(first, start)
            taken.insert(first, taken[first - 1])
        last = bisect_left(times, end, first + 1)
        if last == len(times) or times[last] != end:
            times.insert(last, end)
            taken.insert(last, taken[last - 1])
        for at in range(first, last):
            taken[at] += amount
