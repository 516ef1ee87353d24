"""Tab in real shells: what the completion scripts of bash, zsh and fish put on the line."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from installed import COMMAND, clean_environment
from terminal import Terminal, needs_tmux

pytestmark = needs_tmux

JOB = """\
prepwright: job/1
job: BM-7
panels:
  rear door left: {}
  roof: {}
"""
SHELLS = {
    "bash": ["bash", "--norc", "--noprofile"],
    "zsh": ["zsh", "-f"],
    "fish": ["fish", "--no-config", "-C", "function fish_prompt; echo 'ready$ '; end"],
}
LOADING = {
    "bash": "source <(prepwright completion bash)",
    "zsh": "autoload -Uz compinit; compinit -D; source <(prepwright completion zsh)",
    "fish": "prepwright completion fish | source",
}


@pytest.fixture(params=sorted(SHELLS))
def shell(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Terminal]:
    name = request.param
    if shutil.which(name) is None:
        pytest.skip(f"{name} is not installed")
    (tmp_path / "van.yaml").write_text(JOB, "utf-8")
    keep_job(tmp_path / "store.db")
    opened = Terminal(tmp_path, columns=120, shell=SHELLS[name], HOME=str(tmp_path))
    opened.type(f"{LOADING[name]}; echo 'loa''ded'")
    opened.wait_for("loaded")
    yield opened
    opened.close()


def keep_job(store: Path) -> None:
    done = subprocess.run(
        [str(COMMAND), "chat", "WAGON-12", "--one-engine"],
        input="tail lift, roof\nstop\n",
        capture_output=True,
        text=True,
        env=clean_environment(PREPWRIGHT_STORE=str(store)),
        timeout=60,
        check=False,
    )
    assert done.returncode == 0, done.stderr


def test_tab_completes_what_is_there(shell: Terminal) -> None:
    """Commands, options, jobs of the store, job files, panels, steps, holds, facts and rules."""
    for typed, line in [
        ("prepwright dec", "prepwright decide"),
        ("prepwright decide --pic", "prepwright decide --pictures"),
        ("prepwright decide WAG", "prepwright decide WAGON-12"),
        ("prepwright plan va", "prepwright plan van.yaml"),
        ("prepwright why van.yaml roo", "prepwright why van.yaml roof"),
        ("prepwright done WAGON-12 degrease-c", "prepwright done WAGON-12 degrease-car"),
        ("prepwright sign WAGON-12 film-b", "prepwright sign WAGON-12 film-budget"),
        ("prepwright rules show film-over-l", "prepwright rules show film-over-limit"),
        ("prepwright why van.yaml roof --fact film.ty", "--fact film.typical"),
    ]:
        shell.press("C-u")
        shell.keys(typed)
        shell.press("Tab")
        shell.wait_for(line)


def test_a_name_with_blanks_stays_one_word(shell: Terminal) -> None:
    for typed, panel in [
        ("prepwright why van.yaml rea", "rear door left"),
        ("prepwright why WAGON-12 tai", "tail lift"),
    ]:
        shell.press("C-u")
        shell.keys(typed)
        shell.press("Tab")
        shell.wait_for(panel.rpartition(" ")[2])
        shell.press("Enter")
        # The command names the panel whole, so it arrived as one word.
        shell.wait_for(f"{panel}:")


@pytest.mark.skipif(shutil.which("fish") is None, reason="fish is not installed")
def test_fish_lists_every_shell_the_command_knows() -> None:
    asked = f"{LOADING['fish']}; complete -C 'prepwright completion '"
    done = subprocess.run(
        ["fish", "--no-config", "-c", asked],
        capture_output=True,
        text=True,
        env={**clean_environment(), "PATH": f"{COMMAND.parent}:{os.environ['PATH']}"},
        timeout=60,
        check=True,
    )
    assert set(done.stdout.split()) == {"bash", "zsh", "fish"}
