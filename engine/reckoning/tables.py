"""Picking columns out of a rule set's table."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Protocol

from engine.errors import ReckoningError


class TableLike(Protocol):
    """What a table must have here: column names, and rows of as many cells, in file order."""

    @property
    def columns(self) -> Sequence[str]: ...

    @property
    def rows(self) -> Sequence[Sequence[object]]: ...


def pick(table: TableLike, what: str, *names: str) -> list[tuple[Any, ...]]:
    """The cells of the named columns, row by row; `what` names the table in messages.

    Raises ReckoningError for a missing column, a row of another length, or no rows.
    """
    columns = list(table.columns)
    missing = [name for name in names if name not in columns]
    if missing:
        raise ReckoningError(
            f"the table of {what} lacks the column {', '.join(missing)}; it has "
            + (", ".join(columns) or "none")
        )
    places = [columns.index(name) for name in names]
    for line, row in enumerate(table.rows, start=1):
        if len(row) != len(columns):
            raise ReckoningError(
                f"row {line} of the table of {what} has {len(row)} cells, not {len(columns)}"
            )
    if not table.rows:
        raise ReckoningError(f"the table of {what} has no rows; add them in the rule set's tables")
    return [tuple(row[place] for place in places) for row in table.rows]
