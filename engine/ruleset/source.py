"""Where a part of a rule set comes from, and how that is said."""

from __future__ import annotations

from enum import StrEnum

from engine.records import dataclass
from engine.words import say


class SourceKind(StrEnum):
    STANDARD = "standard"
    REGULATION = "regulation"
    HANDBOOK = "handbook"
    COMMON_PRACTICE = "common-practice"
    MEMORY = "memory"
    SHOP = "shop"


_NO_EDITION = "not stated"


@dataclass(frozen=True, slots=True)
class Source:
    """Where a rule, limit, step, caution or table comes from."""

    kind: SourceKind
    name: str | None = None
    edition: str | None = None
    clause: str | None = None
    checked: str | None = None

    def __str__(self) -> str:
        if self.kind is SourceKind.COMMON_PRACTICE:
            text = say("common practice")
        elif self.kind is SourceKind.MEMORY:
            text = say("from memory")
        elif self.kind is SourceKind.SHOP:
            text = say("this shop's own rule")
        else:
            text = ""
        edition = None if self.edition == _NO_EDITION else self.edition
        named = " ".join(part for part in (self.name, edition) if part)
        if self.clause:
            named = f"{named}, {self.clause}" if named else self.clause
        whole = ": ".join(part for part in (text, named) if part) if text else named
        return f"{whole} ({say('from memory')})" if self.checked == "memory" else whole
