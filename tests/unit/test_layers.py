"""Who imports whom: the engine knows no screen, and no two modules wait for each other."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SCREEN = {"cli", "click", "prompt_toolkit", "rich", "jinja2", "markupsafe"}


def name_of(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


MODULES = {
    name_of(path): ast.parse(path.read_text("utf-8"))
    for package in ("engine", "cli")
    for path in sorted((ROOT / package).rglob("*.py"))
}


def imported(nodes: Iterator[ast.AST]) -> Iterator[str]:
    for node in nodes:
        if isinstance(node, ast.ImportFrom) and node.module:
            for each in node.names:
                inner = f"{node.module}.{each.name}"
                yield inner if inner in MODULES else node.module
        elif isinstance(node, ast.Import):
            yield from (each.name for each in node.names)


def at_once(tree: ast.AST) -> Iterator[ast.AST]:
    """What is run when a module is imported: no body of a function, nothing for types alone."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
            continue
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING":
            continue
        yield node
        yield from at_once(node)


@pytest.mark.parametrize("module", [name for name in MODULES if name.startswith("engine")])
def test_the_engine_imports_nothing_of_a_screen(module: str) -> None:
    found = {name.partition(".")[0] for name in imported(ast.walk(MODULES[module]))}
    assert not found & SCREEN


def test_no_module_waits_for_one_that_waits_for_it() -> None:
    waits = {
        module: {name for name in imported(at_once(tree)) if name in MODULES and name != module}
        for module, tree in MODULES.items()
    }
    assert sum(map(len, waits.values())) > 1000
    try:
        TopologicalSorter(waits).prepare()
    except CycleError as error:
        pytest.fail("these import one another: " + " -> ".join(error.args[1]))
