"""What a shop changed in a supplied rule set, and what somebody reviewed and let stand."""

from __future__ import annotations

from collections.abc import Mapping

from engine.errors import Place
from engine.records import dataclass


@dataclass(frozen=True, slots=True)
class ShopChange:
    """One change a shop made to the supplied rule set: what, by whom, on which day and why.

    `what` is the kind of part (`limit`, `rule`, `fact`, ...) and `id` its name. `replaces` is the
    id of the supplied part it stands for, None for an addition; `supplied` is what the supplied
    set says where one line can tell it, such as `12 mil`. `retired`: the supplied part is taken
    out.
    """

    what: str
    id: str
    by: str
    on: str
    why: str
    place: Place
    replaces: str | None = None
    supplied: str | None = None
    retired: bool = False


@dataclass(frozen=True, slots=True)
class Touched:
    """A supplied part that a shop changed: as the shop's copy has it, and as it is now.

    Both are plain data with every scalar as text; None where there is no copy, or no such part.
    """

    change: ShopChange
    copy: Mapping[str, object] | None
    now: Mapping[str, object] | None


@dataclass(frozen=True, slots=True)
class Shop:
    """A shop's overlay: its changes, and the supplied set they are built on.

    `noted_digest` is the supplied set as the shop last looked at it, None where it never did.
    """

    name: str
    builds_on: str
    supplied_version: str
    supplied_digest: str
    noted_digest: str | None
    place: Place
    changes: tuple[ShopChange, ...]
    touched: tuple[Touched, ...]


@dataclass(frozen=True, slots=True)
class Reviewed:
    """A finding of the checker that somebody looked at and let stand, for the parts it names."""

    finding: str
    names: tuple[str, ...]
    why: str
    place: Place
