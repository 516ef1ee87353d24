"""What a plan takes for granted, what it could not reckon, and what in it cannot be kept."""

from __future__ import annotations

from engine.records import dataclass


@dataclass(frozen=True, slots=True)
class Assumption:
    """Something the plan takes for granted, and how to make it certain."""

    about: str
    text: str
    settle: str


@dataclass(frozen=True, slots=True)
class Missing:
    """Something that could not be reckoned: what, why, and how to get it."""

    about: str
    what: str
    why: str


@dataclass(frozen=True, slots=True)
class Conflict:
    """Something that cannot be kept as the rule set and the shop's hours stand."""

    about: str
    text: str


class Notes:
    """Collects notes; each is kept once, in the order in which it was first made."""

    def __init__(self) -> None:
        self._assumptions: dict[Assumption, None] = {}
        self._missing: dict[Missing, None] = {}
        self._conflicts: dict[Conflict, None] = {}

    def assume(self, about: str, text: str, settle: str) -> None:
        self._assumptions.setdefault(Assumption(about, text, settle))

    def lack(self, about: str, what: str, why: str) -> None:
        self._missing.setdefault(Missing(about, what, why))

    def conflict(self, about: str, text: str) -> None:
        self._conflicts.setdefault(Conflict(about, text))

    @property
    def assumptions(self) -> tuple[Assumption, ...]:
        return tuple(self._assumptions)

    @property
    def missing(self) -> tuple[Missing, ...]:
        return tuple(self._missing)

    @property
    def conflicts(self) -> tuple[Conflict, ...]:
        return tuple(self._conflicts)
