"""The chat in a real terminal."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

import pytest
import yaml
from installed import COMMAND, clean_environment
from terminal import PATIENCE, Terminal, needs_tmux, tell_the_flap

pytestmark = needs_tmux


def read(path: Path) -> dict[str, object]:
    found = yaml.load(path.read_text("utf-8"), yaml.BaseLoader)
    assert isinstance(found, dict)
    return found


def test_a_first_job_ends_in_a_decision(terminal: Terminal) -> None:
    terminal.type(f"{COMMAND} chat BM-7.yaml")
    terminal.wait_for("Which panels are to be looked at?")
    terminal.type("loan counter flap")
    terminal.wait_for("combustion, hybrid, electric")
    terminal.type("combustion")
    tell_the_flap(terminal)
    terminal.wait_for("=> loan counter flap: sand")
    terminal.type("stop")
    shown = terminal.wait_for("decide again with")
    assert "loan counter flap" in shown
    panel = read(terminal.folder / "BM-7.yaml")["panels"]["loan counter flap"]  # type: ignore[index]
    assert panel["substrate"] == "alu" or panel["substrate"]["value"] == "aluminium"


def test_interrupting_keeps_what_was_accepted(terminal: Terminal) -> None:
    terminal.type(f"{COMMAND} chat BM-7.yaml; echo ended $?")
    terminal.wait_for("Which panels are to be looked at?")
    terminal.type("roof")
    terminal.wait_for("combustion, hybrid, electric")
    terminal.type("electric")
    terminal.wait_for("Drive: electric")
    terminal.press("C-c")
    terminal.wait_for("ended 130")
    assert read(terminal.folder / "BM-7.yaml")["car"] == {"drive": "electric"}
    terminal.type(f"{COMMAND} chat BM-7.yaml")
    terminal.wait_for("gone on with from BM-7.yaml")


def test_a_kill_loses_no_accepted_answer(terminal: Terminal) -> None:
    terminal.type(f"sh -c 'echo $$ > pid; exec {COMMAND} chat BM-7.yaml'; echo ended $?")
    terminal.wait_for("Which panels are to be looked at?")
    terminal.type("roof")
    terminal.wait_for("combustion, hybrid, electric")
    terminal.type("hybrid")
    # The answer is echoed only after it has been saved.
    terminal.wait_for("Drive: hybrid")
    os.kill(int((terminal.folder / "pid").read_text()), 9)
    terminal.wait_for("ended 137")
    assert read(terminal.folder / "BM-7.yaml")["car"] == {"drive": "hybrid"}


@pytest.mark.parametrize("columns", [40, 200])
def test_narrow_and_wide_windows(tmp_path: Path, columns: int) -> None:
    terminal = Terminal(tmp_path, columns=columns)
    try:
        terminal.type(f"{COMMAND} chat BM-7.yaml")
        terminal.wait_for("Which panels")
        terminal.type("roof")
        terminal.wait_for("hybrid")
        shown = terminal.visible()
        assert max(len(line) for line in shown.splitlines()) <= columns
    finally:
        terminal.close()


def test_plain_mode_has_no_bottom_line_and_no_colour(terminal: Terminal) -> None:
    terminal.type(f"{COMMAND} chat BM-7.yaml --plain")
    terminal.wait_for("Which panels are to be looked at?")
    terminal.type("roof")
    terminal.wait_for("combustion, hybrid, electric")
    coloured = terminal.visible(colours=True)
    assert "panels decided" not in coloured
    assert "\x1b[7m" not in coloured


def test_a_job_of_the_store_goes_on_after_a_kill(terminal: Terminal) -> None:
    terminal.type(f"sh -c 'echo $$ > pid; exec {COMMAND} chat BM-7'; echo ended $?")
    terminal.wait_for("kept in the store")
    terminal.type("roof")
    terminal.wait_for("combustion, hybrid, electric")
    terminal.type("hybrid")
    terminal.wait_for("Drive: hybrid")
    os.kill(int((terminal.folder / "pid").read_text()), 9)
    terminal.wait_for("ended 137")
    terminal.type(f"{COMMAND} chat BM-7")
    terminal.wait_for("gone on with from the store")
    terminal.type("show")
    terminal.wait_for("Drive: hybrid", times=2)
    terminal.type("stop")
    terminal.wait_for("Seal of the record:")
    terminal.type(f"{COMMAND} trail verify")
    terminal.wait_for("The record is sound")


def test_what_another_terminal_did_is_shown_and_the_typed_answer_stands_ready(
    terminal: Terminal,
) -> None:
    terminal.type(f"{COMMAND} chat BM-7")
    terminal.wait_for("kept in the store")
    terminal.type("roof")
    terminal.wait_for("combustion, hybrid, electric")
    done = subprocess.run(
        [str(COMMAND), "found", "BM-7", "drive: electric", "--by", "Sam"],
        capture_output=True,
        env=clean_environment(PREPWRIGHT_STORE=str(terminal.folder / "store.db")),
        timeout=PATIENCE,
        check=False,
    )
    assert done.returncode == 0, done.stderr.decode()
    terminal.type("change drive: hybrid")
    terminal.wait_for("Your answer was not taken yet: change drive: hybrid")
    assert "Sam: found: car.drive: electric" in terminal.screen()
    terminal.wait_for("> change drive: hybrid", times=2)
    terminal.press("Enter")
    terminal.wait_for("Drive: hybrid")
