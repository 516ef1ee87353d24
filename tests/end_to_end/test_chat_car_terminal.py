"""The chat beside the car: back and change, bulk answers, a narrow window, hearing it, ASCII."""

from __future__ import annotations

import shutil
from pathlib import Path

from installed import COMMAND
from terminal import Terminal, needs_tmux, tell_the_flap
from test_chat_terminal import read

pytestmark = needs_tmux

DEMO = Path(__file__).parents[2] / "shared" / "demo" / "bookmobile.yaml"


def start(terminal: Terminal, panels: str = "roof", job: str = "BM-7.yaml", more: str = "") -> None:
    terminal.type(f"{COMMAND} chat {job} {more}")
    terminal.wait_for("Which panels are to be looked at?")
    terminal.type(panels)
    terminal.wait_for("combustion, hybrid, electric")


def test_back_gives_the_answer_again_and_a_new_one_is_typed_over_it(terminal: Terminal) -> None:
    start(terminal, "roof, tailgate")
    terminal.type("hybrid")
    terminal.wait_for("Drive: hybrid")
    terminal.type("change tailgate refinishing: no")
    terminal.wait_for("=> tailgate: leave")
    terminal.type("back")
    terminal.wait_for("Falls with it: tailgate: leave is open again")
    terminal.type("back")
    terminal.wait_for("Taken back: Drive: hybrid")
    # The earlier answer stands in the line, ready to be sent or typed over.
    terminal.wait_for("> hybrid", times=2)
    terminal.type("electric")
    terminal.wait_for("Drive: electric")
    terminal.type("change drive: combustion")
    terminal.wait_for("Drive: combustion")
    terminal.type("stop")
    terminal.wait_for("decide again with")
    told = read(terminal.folder / "BM-7.yaml")
    assert told["car"] == {"drive": "combustion"}
    assert "tailgate" in told["panels"]  # type: ignore[operator]


def test_one_line_answers_for_several_panels(terminal: Terminal) -> None:
    start(terminal, "roof, bonnet, front bumper, rear bumper")
    terminal.type("change material")
    terminal.wait_for("Panels: roof, bonnet, front bumper, rear bumper.")
    terminal.type("all steel; bumpers: plastic; bonnet: alu")
    terminal.wait_for("front bumper, rear bumper: Material: plastic")
    terminal.wait_for("bonnet: Material: aluminium")
    terminal.type("change film readings")
    terminal.wait_for("Film readings on roof?")
    terminal.type("roof: 5 5.1 5 mil; bonnet: 130 um, 128 um, 131 um")
    terminal.wait_for("bonnet: Film readings:")
    terminal.press("C-c")
    terminal.wait_for("every accepted answer is in BM-7.yaml")
    panels = read(terminal.folder / "BM-7.yaml")["panels"]
    assert {name: sheet["substrate"] for name, sheet in panels.items()} == {  # type: ignore[attr-defined]
        "roof": "steel",
        "bonnet": "alu",
        "front bumper": "plastic",
        "rear bumper": "plastic",
    }


def test_a_surprise_says_what_it_does_to_the_plan(terminal: Terminal) -> None:
    terminal.type(f"{COMMAND} decide {DEMO} --save > /dev/null; {COMMAND} chat BM-7")
    terminal.wait_for("gone on with from the store")
    terminal.wait_for("One of:")
    terminal.type("found roof rust: perforated")
    shown = terminal.wait_for("What it does to the plan")
    assert "renew" in shown
    terminal.press("C-c")
    terminal.wait_for("go on with")
    terminal.type(f"clear; {COMMAND} trail show BM-7 --plain | grep -c 'found by'")
    terminal.wait_for("1")


def test_a_whole_talk_fits_forty_columns(tmp_path: Path) -> None:
    terminal = Terminal(tmp_path, columns=40)
    try:
        start(terminal, "roof, left front door")
        for typed, seen in [
            ("steam", "or `don't know`"),
            ("combustion", "Drive: combustion"),
            ("why", "would leave"),
            ("help", "Put `/` before"),
            ("change roof film readings: 5 5.1 5 mil", "once these are"),
            ("change roof material: steel", "roof: Material: steel"),
            ("change roof kind of part: original", "roof: Kind of part"),
            ("show roof picture", "film.overcoat-limit"),
            ("back", "Taken back:"),
            ("by panel", "Panel by panel."),
        ]:
            terminal.type(typed)
            shown = terminal.wait_for(seen)
        terminal.wait_for("left | 0/2")
        # What the chat wrote keeps within the window; only what was typed runs on into a next row.
        said = shown[shown.index("Job BM-7") :].splitlines()
        written = [row for row in said if not row.startswith(">")]
        assert max(map(len, written)) <= 40, written
    finally:
        terminal.close()


def test_a_job_is_talked_through_by_ear(tmp_path: Path) -> None:
    """Plain: one thing after another, nothing drawn, moved or coloured, to the decision."""
    terminal = Terminal(tmp_path, NO_COLOR="1")
    try:
        start(terminal, "loan counter flap", more="--plain")
        terminal.type("steam")
        terminal.wait_for("is not a value of")
        terminal.wait_for("type over it")
        terminal.type("combustion")
        terminal.wait_for("Drive: combustion")
        tell_the_flap(terminal)
        terminal.wait_for("=> loan counter flap: sand")
        terminal.type("show loan counter flap picture")
        terminal.wait_for("below film.overcoat-limit of 12 mil")
        coloured = terminal.visible(colours=True)
        assert "panels decided" not in coloured
        terminal.type("stop")
        shown = terminal.wait_for("decide again with")
        assert not set("●│─·") & set(shown)
        assert "\x1b[3" not in terminal.visible(colours=True)
    finally:
        terminal.close()


def test_a_terminal_without_utf8_gets_ascii(tmp_path: Path) -> None:
    terminal = Terminal(tmp_path, columns=60, PYTHONIOENCODING="ascii", LC_ALL="C")
    try:
        shutil.copy(DEMO, terminal.folder / "van.yaml")
        terminal.type(f"{COMMAND} chat van.yaml")
        terminal.wait_for("gone on with from van.yaml")
        terminal.wait_for("One of:")
        terminal.type("show roof picture")
        shown = terminal.wait_for("film.overcoat-limit")
        assert "o" in next(row for row in shown.splitlines() if row.startswith("Spot 1"))
        assert shown.isascii()
    finally:
        terminal.close()


def test_how_a_person_walks_is_kept_for_the_next_time(terminal: Terminal) -> None:
    start(terminal, "roof, bonnet")
    terminal.type("by panel")
    terminal.wait_for("Panel by panel.")
    terminal.press("C-c")
    terminal.wait_for("go on with")
    terminal.type(f"clear; {COMMAND} chat BM-7.yaml")
    terminal.wait_for("Panel by panel, as you chose")
    terminal.type("by question")
    terminal.wait_for("Each question over all panels.")
    terminal.press("C-c")
    terminal.wait_for("go on with", times=1)
    assert "question" in (terminal.folder / "config" / "prepwright" / "chat.json").read_text()


def test_another_job_is_gone_over_to_and_back(terminal: Terminal) -> None:
    start(terminal, "roof", job="BM-7")
    terminal.type("job BM-8")
    terminal.wait_for("Job BM-7 is kept in")
    terminal.wait_for("Which panels are to be looked at?", times=2)
    terminal.type("bonnet")
    terminal.wait_for("combustion, hybrid, electric", times=2)
    terminal.type("job")
    terminal.wait_for("BM-8: this one")
    terminal.type("job BM-7")
    terminal.wait_for("Job BM-7, gone on with from")
    terminal.press("C-c")
    terminal.wait_for("go on with: prepwright chat BM-7")
    # Without a name the jobs there are come first.
    terminal.type(f"clear; {COMMAND}")
    shown = terminal.wait_for("Which job?")
    assert "BM-7: not decided yet" in shown
    terminal.press("C-c")
