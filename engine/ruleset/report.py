"""Collects everything that is wrong with a rule set, so that it is told in one go."""

from __future__ import annotations

from collections.abc import Iterable

from engine.errors import Place, Problem, RuleSetError, did_you_mean

MOST_SHOWN = 100
_FEW = 12


class Report:
    """The problems found so far."""

    def __init__(self) -> None:
        self._problems: list[Problem] = []

    def __len__(self) -> int:
        return len(self._problems)

    @property
    def problems(self) -> tuple[Problem, ...]:
        return tuple(self._problems)

    def add(self, code: str, message: str, place: Place, fix: str | None = None) -> None:
        self._problems.append(Problem(code, message, place, fix))

    def extend(self, problems: Iterable[Problem]) -> None:
        self._problems.extend(problems)

    def unknown(self, what: str, found: str, known: Iterable[str], place: Place) -> None:
        """`found` is the name of no `what`; the nearest known names are suggested."""
        self.add(f"unknown-{what}", f"there is no {what} `{found}`", place, near(found, known))

    def refuse(self) -> None:
        """Raise RuleSetError if there is any problem; all but the first hundred are counted."""
        if not self._problems:
            return
        found = RuleSetError(dict.fromkeys(self._problems)).problems
        if len(found) > MOST_SHOWN:
            more = len(found) - MOST_SHOWN
            rest = Problem(
                "more-problems",
                f"and {more} more {'problem' if more == 1 else 'problems'} from here on",
                found[MOST_SHOWN].place,
            )
            raise RuleSetError((*found[:MOST_SHOWN], rest))
        raise RuleSetError(found)


def near(found: str, known: Iterable[str]) -> str | None:
    """A suggestion of the nearest names, or of all of them where they are few."""
    names = list(dict.fromkeys(known))
    return did_you_mean(found, names) or (
        f"There {'is' if len(names) == 1 else 'are'}: {listed(names)}."
        if 0 < len(names) <= _FEW
        else None
    )


def listed(names: Iterable[str], last: str = "and") -> str:
    """`a`, `b` and `c`, each in backticks."""
    marked = [f"`{name}`" for name in names]
    if len(marked) < 2:
        return "".join(marked)
    return f"{', '.join(marked[:-1])} {last} {marked[-1]}"
