"""Completion scripts, as the shells themselves read them, what they offer, and the version."""

from __future__ import annotations

import shutil
import subprocess

import pytest

from engine.ruleset import load_ruleset
from engine.supplied import supplied_ruleset_folder

_CHECKS = {"bash": ["bash", "-n"], "zsh": ["zsh", "-n"], "fish": ["fish", "--no-execute"]}


@pytest.mark.parametrize("shell", sorted(_CHECKS))
def test_the_script_is_sound_for_its_shell(prepwright, tmp_path, shell):
    result = prepwright("completion", shell)
    assert (result.returncode, result.stderr) == (0, b"")
    assert f"_PREPWRIGHT_COMPLETE={shell}_complete".encode() in result.stdout
    if shutil.which(shell) is None:
        pytest.skip(f"{shell} is not installed to read its script")
    script = tmp_path / "script"
    script.write_bytes(result.stdout)
    subprocess.run([*_CHECKS[shell], str(script)], check=True, timeout=60)


def test_an_unknown_shell_is_refused_with_the_known_ones(prepwright):
    result = prepwright("completion", "tcsh")
    assert result.returncode == 2
    assert b"'bash', 'zsh', 'fish'" in result.stderr


def test_the_version_names_engines_and_the_digest_of_the_rules(prepwright):
    said = prepwright("--version").stdout.decode()
    assert load_ruleset(supplied_ruleset_folder()).digest in said
    assert "engines: evaluator" in said


def test_pictures_are_for_people(prepwright, sample):
    drawn = prepwright("decide", sample, "--pictures", "--width", "60", PYTHONIOENCODING="utf-8")
    assert "film.overcoat-limit" in drawn.stdout.decode()
    assert "●" in drawn.stdout.decode()
    bare = prepwright("decide", sample, "--pictures", "--width", "60", PYTHONIOENCODING="ascii")
    assert "film.overcoat-limit" in bare.stdout.decode("ascii")
    refused = prepwright("decide", sample, "--pictures", "--json")
    assert refused.returncode == 2
    assert b"--pictures" in refused.stderr
