"""The quick look at a file may send too many to the exact validator, never let a wrong one pass."""

from __future__ import annotations

import copy
import random
from pathlib import Path
from typing import Any

import pytest

from engine.document import WrittenNumber, read_document
from engine.errors import DocumentError
from engine.ruleset.entries import PARTS, SHOP_PARTS
from engine.ruleset.quick_shape import quick_look
from engine.ruleset.schema import _quick, _validator
from engine.supplied import supplied_ruleset_folder

HERE = Path(__file__).parent
FOLDERS = [(supplied_ruleset_folder(), PARTS), (HERE / "small_ruleset", PARTS)]
SHOPS = [(HERE / "small_shop", SHOP_PARTS)]
STRANGE: list[Any] = [
    None,
    True,
    False,
    0,
    7,
    WrittenNumber("1.5"),
    "",
    "x",
    "yes",
    [],
    {},
    ["a", "a"],
]


def documents(folders: list[Any]) -> list[tuple[str, Any]]:
    found = []
    for folder, parts in folders:
        for part in parts:
            for file in sorted(folder.glob(part.pattern)):
                try:
                    data = read_document(file).data
                except DocumentError:
                    continue
                if data is not None:
                    found.append((part.schema, data))
    return found


def test_every_supplied_file_passes_the_quick_look() -> None:
    found = documents(FOLDERS + SHOPS)
    assert len(found) > 30
    assert [schema for schema, data in found if not _quick(schema)(data)] == []


def test_no_bad_file_passes_the_quick_look() -> None:
    bad = [
        *((path, PARTS) for path in (HERE / "bad_rulesets").iterdir()),
        *((path, SHOP_PARTS) for path in (HERE / "bad_shops").iterdir()),
    ]
    refused = 0
    for schema, data in documents(bad):
        if not _validator(schema).is_valid(data):
            assert not _quick(schema)(data)
            refused += 1
    assert refused > 20


def paths(data: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    found = [path]
    items = (
        data.items()
        if isinstance(data, dict)
        else enumerate(data)
        if isinstance(data, list)
        else ()
    )
    for key, value in items:
        found += paths(value, (*path, key))
    return found


def spoilt(data: Any, chance: random.Random) -> Any:
    """The data with one part taken out, doubled, renamed or replaced."""
    data = copy.deepcopy(data)
    *above, last = chance.choice(paths(data)[1:])
    holder = data
    for key in above:
        holder = holder[key]
    way = chance.randrange(4)
    if way == 0:
        del holder[last]
    elif way == 1 and isinstance(holder, dict):
        holder[chance.choice(["strange", "no", "Ab c", str(last) + "x"])] = holder.pop(last)
    elif way == 2 and isinstance(holder, list):
        holder.append(copy.deepcopy(holder[last]))
    else:
        holder[last] = chance.choice(STRANGE)
    return data


def test_nothing_spoilt_passes_that_the_exact_validator_refuses() -> None:
    """jsonschema is the reference; small files stand for all, so that it stays quick."""
    chance = random.Random(20260301)
    wrong = 0
    for schema, data in documents([(HERE / "small_ruleset", PARTS), *SHOPS]):
        exact, quick = _validator(schema), _quick(schema)
        for _ in range(60):
            other = spoilt(data, chance)
            valid = exact.is_valid(other)
            assert valid or not quick(other), (schema, other)
            wrong += not valid
    assert wrong > 300


@pytest.mark.parametrize(
    "schema",
    [{"multipleOf": 3}, {"$ref": "elsewhere.json#/x"}, {"if": {"type": "string"}}, {"items": 3}],
)
def test_what_is_not_known_here_is_left_to_the_exact_validator(schema: dict[str, Any]) -> None:
    assert quick_look(schema)("anything") is False
