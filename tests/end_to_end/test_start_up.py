"""A command imports only what it uses: asking for help must not wait for the engines."""

from __future__ import annotations

import subprocess
import sys

import pytest
from installed import clean_environment

HEAVY = (
    "durable",
    "jsonschema",
    "prompt_toolkit",
    "rich",
    "yaml",
    "jinja2",
    "hypothesis",
    "engine",
)


def imported(*args: str) -> set[str]:
    """Top-level packages in memory once the command has run."""
    script = (
        "import sys; from cli.main import run; code = run(sys.argv[1:]); "
        "sys.stderr.write(' '.join({name.partition('.')[0] for name in sys.modules})); "
        "sys.exit(code)"
    )
    result = subprocess.run(
        [sys.executable, "-c", script, *args],
        capture_output=True,
        env=clean_environment(),
        timeout=60,
        check=True,
    )
    return set(result.stderr.decode().split())


@pytest.mark.parametrize(
    "args", [("--help",), ("decide", "--help"), ("plan", "--help"), ("rules", "check", "--help")]
)
def test_help_imports_nothing_heavy(args):
    found = imported(*args)
    assert "click" in found
    assert found.isdisjoint(set(HEAVY) - {"engine"})


def test_json_needs_no_screen(sample):
    found = imported("decide", str(sample), "--json", "--one-engine")
    assert "yaml" in found
    assert found.isdisjoint({"prompt_toolkit", "rich", "durable", "jinja2"})


def test_text_needs_no_chat(sample):
    assert imported("decide", str(sample)).isdisjoint({"prompt_toolkit", "jinja2"})
