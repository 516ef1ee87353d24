"""What there is to say of a file: what was assumed, what to confirm, what is wrong."""

from __future__ import annotations

from dataclasses import dataclass, field

from engine.errors import Place, Problem


@dataclass(slots=True)
class Findings:
    """Collected while a file is understood, in the order in which it came up."""

    assumed: list[str] = field(default_factory=list)
    to_confirm: list[Problem] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)

    def assume(self, what: str) -> None:
        """Something was taken without being told."""
        self.assumed.append(what)

    def ask(self, code: str, message: str, place: Place | None, fix: str) -> None:
        """A person has to look at something."""
        self.to_confirm.append(Problem(code, message, place, fix))

    def refuse(self, code: str, message: str, place: Place | None, fix: str) -> None:
        """Something keeps the readings from being taken."""
        self.problems.append(Problem(code, message, place, fix))
