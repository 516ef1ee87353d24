"""How many values of outside sources the tests here compare with, by file.

A row of a parametrised test is one value. In other tests each assertion that holds a number or a
text of its own is one; a search of hypothesis is one. `python tests/published/counting.py` writes
the list again.
"""

from __future__ import annotations

import ast
import importlib.util
import math
import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

HERE = Path(__file__).parent
LIST = HERE / "COUNTED.md"


def counted() -> dict[str, tuple[str, int]]:
    """By file: the sources in the words of its first line, and how many values of theirs."""
    found = {}
    for path in sorted(HERE.glob("test_*.py")):
        if path.stem == "test_counted":
            continue
        tree = ast.parse(path.read_text("utf-8"))
        module = _imported(path)
        families = (ast.get_docstring(tree) or "").splitlines()[0].rstrip(".")
        found[path.name] = (families, sum(_values(module, node) for node in _tests(tree)))
    return found


def total() -> int:
    return sum(count for _, count in counted().values())


def page() -> str:
    """The list as it is kept beside the tests."""
    rows = "".join(
        f"| `{name}` | {what} | {count} |\n" for name, (what, count) in counted().items()
    )
    return (
        "# Values of outside sources that tests compare with\n\n"
        "Each test names its source and how far it is trusted. Written by `counting.py`.\n\n"
        f"| file | what | values |\n|---|---|---|\n{rows}| all | | {total()} |\n"
    )


def _imported(path: Path) -> ModuleType:
    if path.stem in sys.modules:
        return sys.modules[path.stem]
    spec = importlib.util.spec_from_file_location(f"counted_{path.stem}", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    # Dataclasses look their own module up while they are made.
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def _tests(tree: ast.Module) -> Iterator[ast.FunctionDef]:
    for node in tree.body:
        if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
            yield node


def _values(module: ModuleType, node: ast.FunctionDef) -> int:
    function: Any = getattr(module, node.name)
    marks = [mark for mark in getattr(function, "pytestmark", ()) if mark.name == "parametrize"]
    if marks:
        return math.prod(len(list(mark.args[1])) for mark in marks)
    if hasattr(function, "hypothesis"):
        return 1
    asserts = [each for each in ast.walk(node) if isinstance(each, ast.Assert)]
    return sum(1 for each in asserts if _holds_a_value(each))


def _holds_a_value(statement: ast.Assert) -> bool:
    return any(
        isinstance(part, ast.Constant) and isinstance(part.value, int | float | str)
        for part in ast.walk(statement.test)
    )


if __name__ == "__main__":
    sys.path[:0] = [str(HERE), str(HERE.parent / "unit")]
    LIST.write_text(page(), "utf-8")
