"""Which modules a command may bring in: a start-up budget that no busy machine can break."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from engine.supplied import demo_folder

SCRIPT = """
import sys
sys.argv = ["prepwright", *sys.argv[1:]]
from cli.main import main
try:
    main()
except SystemExit as end:
    assert not end.code, end.code
print(*sorted(sys.modules), file=sys.stderr)
"""

CHAT = """
import sys
from cli.chat.command import chat
import cli.chat.loop, cli.chat.consultation
from cli.chat.consultation import Consultation
from cli.consult import load
from engine.facts import JobFacts
assert Consultation(load(None), JobFacts("NEW-1"), lambda _: None).prompt()
print(*sorted(sys.modules), file=sys.stderr)
"""

READS_RULES = ("engine.ruleset.load", "engine.ruleset.entries", "engine.ruleset.schema")
HEAVY = ("jsonschema", "z3", "jinja2", "hypothesis", "numpy", "scipy", "pint", "multiprocessing")

FORBIDDEN = {
    "help": (*HEAVY, *READS_RULES, "yaml", "rich", "prompt_toolkit", "durable", "sqlite3",
             "engine.reasoning.evaluate", "engine.ruleset.model", "engine.plan", "pickle"),
    "decide": (*HEAVY, *READS_RULES, "prompt_toolkit", "sqlite3", "cli.chat", "cli.report",
               "engine.readings", "engine.prove", "engine.impact", "engine.trail",
               "importlib.metadata"),
    "decide-json": (*HEAVY, *READS_RULES, "prompt_toolkit", "sqlite3", "cli.chat", "cli.report",
                    "engine.readings", "engine.prove", "engine.impact", "engine.trail", "rich",
                    "importlib.metadata"),
    "chat": (*HEAVY, *READS_RULES, "cli.report", "engine.readings", "engine.prove",
             "engine.impact", "rich"),
}  # fmt: skip


def brought_in(script: str, *args: str) -> set[str]:
    """The modules there are at the end, the rules having been kept by a run before."""
    for _ in range(2):
        done = subprocess.run(
            [sys.executable, "-c", script, *args], capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, done.stderr
    return set(done.stderr.splitlines()[-1].split())


@pytest.mark.parametrize(
    ("command", "script", "args"),
    [
        ("help", SCRIPT, ("--help",)),
        ("decide", SCRIPT, ("decide", "DEMO")),
        ("decide-json", SCRIPT, ("decide", "DEMO", "--json")),
        ("chat", CHAT, ()),
    ],
)
def test_nothing_is_brought_in_for_nothing(
    command: str, script: str, args: tuple[str, ...]
) -> None:
    demo = Path(demo_folder()) / "bookmobile.yaml"
    found = brought_in(script, *(str(demo) if arg == "DEMO" else arg for arg in args))
    assert "click" in found
    assert sorted(found & set(FORBIDDEN[command])) == []
