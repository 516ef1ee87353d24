"""The chat as a desk in a real terminal: bottom line, free words, faults, work, first run."""

from __future__ import annotations

import subprocess
from pathlib import Path

from installed import COMMAND, clean_environment
from terminal import Terminal, needs_tmux

pytestmark = needs_tmux

DEMO = Path(__file__).parents[2] / "shared" / "demo" / "bookmobile.yaml"


def record_of(folder: Path, job: str) -> str:
    done = subprocess.run(
        [str(COMMAND), "trail", "show", job, "--store", str(folder / "store.db"), "--plain"],
        capture_output=True,
        text=True,
        env=clean_environment(),
        timeout=60,
        check=True,
    )
    return done.stdout


def test_a_first_run_explains_itself_in_five_lines(terminal: Terminal) -> None:
    terminal.type(f"{COMMAND}")
    shown = terminal.wait_for("What shall this job be called?")
    lines = [line for line in shown.splitlines() if line.strip()]
    first = next(at for at, line in enumerate(lines) if line.startswith("prepwright tells"))
    asked = next(at for at, line in enumerate(lines) if line.startswith("What shall"))
    told = "\n".join(lines[first:asked])
    assert "--help" in told
    # The path of the store may take a second row of the screen.
    assert asked - first <= 6
    terminal.press("C-c")


def test_the_bottom_line_says_what_is_left(terminal: Terminal) -> None:
    terminal.type(f"{COMMAND} chat BM-7.yaml")
    terminal.wait_for("Which panels are to be looked at?")
    terminal.type("roof, bonnet")
    terminal.wait_for("combustion, hybrid, electric")
    shown = terminal.wait_for("questions left")
    bottom = shown.rstrip().splitlines()[-1]
    assert "BM-7" in bottom
    assert "0 of 2 panels decided" in bottom


def test_free_words_are_asked_back(terminal: Terminal) -> None:
    terminal.type(f"{COMMAND} chat BM-7.yaml")
    terminal.wait_for("Which panels")
    terminal.type("roof")
    terminal.wait_for("combustion, hybrid, electric")
    terminal.type("change roof defects")
    terminal.wait_for("What is wrong with the paint on roof?")
    terminal.type("clear is flaking on the edge")
    terminal.wait_for("Do you mean peeling")
    terminal.type("yes")
    terminal.wait_for("roof: Visible defects: peeling")


def test_a_fault_is_looked_into_and_recorded(terminal: Terminal) -> None:
    terminal.type(f"{COMMAND} chat BM-7")
    terminal.wait_for("Which panels")
    terminal.type("roof")
    terminal.wait_for("combustion, hybrid, electric")
    terminal.type("trouble fisheyes in the clear, roof")
    terminal.wait_for("How far is the new finish on roof?")
    terminal.type("cured")
    terminal.wait_for("How far back: Sand and clear again.")
    terminal.press("C-c")
    terminal.wait_for("go on with: prepwright chat BM-7")
    assert "fisheyes" in record_of(terminal.folder, "BM-7")


def test_work_is_recorded_from_the_chat(terminal: Terminal) -> None:
    terminal.type(f"{COMMAND} decide {DEMO} --save > /dev/null; {COMMAND} jobs --plain")
    name = "BM-7"
    terminal.wait_for(name)
    terminal.type(f"clear; {COMMAND} chat {name}")
    # What was left unknown may be asked again; work is taken all the same.
    terminal.wait_for("gone on with from the store")
    terminal.wait_for("One of:")
    terminal.type("next")
    assert "\\x1b" not in terminal.wait_for("may be done now")
    terminal.type("note tail lift is out of order")
    terminal.wait_for("Noted.")
    terminal.type("found roof rust: perforated")
    terminal.wait_for("What it does to the plan")
    terminal.press("C-c")
    terminal.wait_for("go on with")
    record = record_of(terminal.folder, name)
    assert "tail lift is out of order" in record
    assert "found by" in record


def test_a_film_is_drawn(tmp_path: Path) -> None:
    terminal = Terminal(tmp_path, columns=60)
    try:
        terminal.type(f"cp {DEMO} van.yaml; clear; {COMMAND} chat van.yaml")
        terminal.wait_for("gone on with from van.yaml")
        terminal.wait_for("One of:")
        terminal.type("show roof picture")
        shown = terminal.wait_for("film.overcoat-limit")
        assert "●" in shown
        assert max(map(len, shown.splitlines())) <= 60
    finally:
        terminal.close()


def test_plain_without_colour_says_the_picture_in_words(tmp_path: Path) -> None:
    terminal = Terminal(tmp_path, columns=60)
    try:
        terminal.type(f"export NO_COLOR=1; cp {DEMO} van.yaml; {COMMAND} chat van.yaml --plain")
        terminal.wait_for("gone on with from van.yaml")
        terminal.type("show roof picture")
        shown = terminal.wait_for("of 12 mil")
        assert "●" not in shown
        assert "\x1b[3" not in terminal.visible(colours=True)
    finally:
        terminal.close()
