"""Whatever stands in the files, loading ends in a rule set or in one RuleSetError."""

from __future__ import annotations

import contextlib
import json
import re
import shutil
import tempfile
from pathlib import Path
from typing import Any

import numpy
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import connected_components

from engine.document import read_document
from engine.errors import RuleSetError
from engine.ruleset import load_ruleset
from engine.ruleset.depends import Node, cycles

SMALL = Path(__file__).parent.parent / "unit" / "small_ruleset"
FILES = sorted(path.relative_to(SMALL).as_posix() for path in SMALL.rglob("*.yaml"))
DATA = {name: read_document(SMALL / name).data for name in FILES}

words = st.sampled_from(
    [
        "",
        "yes",
        "all",
        "treatment",
        "film.typical",
        "$film.limit",
        "$",
        "12 mil",
        "{panel}",
        "{",
        "é",
    ]
)
scalars = st.one_of(st.none(), st.booleans(), st.integers(-5, 10**20), words, st.text(max_size=5))
parts = st.recursive(
    scalars,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(words, inner, max_size=3),
    max_leaves=4,
)


def paths_of(data: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    found = [path]
    if isinstance(data, dict):
        for key, value in data.items():
            found += paths_of(value, (*path, key))
    elif isinstance(data, list):
        for index, value in enumerate(data):
            found += paths_of(value, (*path, index))
    return found


def changed(data: Any, path: tuple[Any, ...], value: Any, *, drop: bool) -> Any:
    if not path:
        return value
    copy = dict(data) if isinstance(data, dict) else list(data)
    if len(path) == 1 and drop:
        del copy[path[0]]
    else:
        copy[path[0]] = changed(copy[path[0]], path[1:], value, drop=drop)
    return copy


@settings(max_examples=200, deadline=None)
@given(st.data())
def test_a_spoilt_file_never_ends_in_anything_but_a_rule_set_error(data: st.DataObject) -> None:
    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / "set"
        shutil.copytree(SMALL, target)
        for name in data.draw(
            st.lists(st.sampled_from(FILES), min_size=1, max_size=2, unique=True)
        ):
            path = data.draw(st.sampled_from(paths_of(DATA[name])))
            spoilt = changed(
                DATA[name], path, data.draw(parts), drop=bool(path) and data.draw(st.booleans())
            )
            (target / name).write_text(json.dumps(spoilt, ensure_ascii=False), "utf-8")
        with contextlib.suppress(RuleSetError):
            assert load_ruleset(target).digest.startswith("sha256:")
            return
        with pytest.raises(RuleSetError) as refused:
            load_ruleset(target)
    assert refused.value.problems
    for problem in refused.value.problems:
        assert problem.place is not None
        assert re.fullmatch("[a-z][a-z0-9-]+", problem.code)
        assert problem.message


graphs = st.integers(1, 8).flatmap(
    lambda size: st.lists(
        st.tuples(st.integers(0, size - 1), st.integers(0, size - 1)), max_size=20
    ).map(lambda edges: (size, edges))
)


@given(graphs)
def test_circles_are_real_and_none_is_left_over(graph: tuple[int, list[tuple[int, int]]]) -> None:
    """Held against the strongly connected components of scipy.sparse.csgraph."""
    size, edges = graph
    waits: dict[Node, tuple[Node, ...]] = {
        (str(node),): tuple((str(to),) for start, to in edges if start == node)
        for node in range(size)
    }
    found = cycles(waits)
    for cycle in found:
        for node, after in zip(cycle, (*cycle[1:], cycle[0]), strict=True):
            assert after in waits[node]
    taken = {int(node[0]) for cycle in found for node in cycle}
    left = numpy.zeros((size, size), dtype=int)
    for start, to in edges:
        if start not in taken and to not in taken:
            left[start, to] = 1
    count, _ = connected_components(csr_matrix(left), directed=True, connection="strong")
    assert count == size
    assert not left.diagonal().any()
    if not found:
        assert not taken
