"""A shell in a real terminal, driven through tmux the way fingers would."""

from __future__ import annotations

import os
import shutil
import subprocess
import time
import uuid
from collections.abc import Sequence
from pathlib import Path

import pytest
from installed import COMMAND, clean_environment

needs_tmux = pytest.mark.skipif(shutil.which("tmux") is None, reason="tmux is not installed")

PATIENCE = 60.0
"""Seconds to wait for what is to be seen: a busy machine is no fault of the chat."""


class Terminal:
    """A tmux session with a shell in an empty folder, and `prepwright` on its path."""

    def __init__(
        self,
        folder: Path,
        columns: int = 80,
        rows: int = 40,
        shell: Sequence[str] = ("bash", "--norc", "--noprofile"),
        **environment: str,
    ) -> None:
        self.folder = folder
        self._socket = f"prepwright-{uuid.uuid4().hex[:12]}"
        self._tmux(
            "-f",
            os.devnull,
            "new-session",
            "-d",
            "-x",
            str(columns),
            "-y",
            str(rows),
            "-c",
            str(folder),
            "env",
            "PS1=ready$ ",
            f"PATH={COMMAND.parent}:{os.environ['PATH']}",
            f"PREPWRIGHT_STORE={folder / 'store.db'}",
            # What a person chose for the chat stays in the folder of the test.
            f"XDG_CONFIG_HOME={folder / 'config'}",
            *(f"{name}={value}" for name, value in environment.items()),
            *shell,
        )
        self.wait_for("ready$")

    def _tmux(self, *words: str) -> str:
        done = subprocess.run(
            ["tmux", "-L", self._socket, *words],
            capture_output=True,
            text=True,
            env=clean_environment(TERM="xterm-256color", LC_ALL="C.UTF-8"),
            timeout=PATIENCE,
            check=True,
        )
        return done.stdout

    def type(self, text: str) -> None:
        self._tmux("send-keys", "-l", text)
        self._tmux("send-keys", "Enter")

    def keys(self, text: str) -> None:
        """Type without sending the line."""
        self._tmux("send-keys", "-l", text)

    def press(self, key: str) -> None:
        self._tmux("send-keys", key)

    def screen(self) -> str:
        return self._tmux("capture-pane", "-p", "-J", "-S", "-2000")

    def wait_for(self, text: str, times: int = 1) -> str:
        until = time.monotonic() + PATIENCE
        while time.monotonic() < until:
            shown = self.screen()
            if shown.count(text) >= times:
                return shown
            time.sleep(0.05)
        raise AssertionError(f"never saw {text!r} in:\n{self.screen()}")

    def wait_until_gone(self, text: str) -> str:
        """Wait until the visible screen shows a text no longer."""
        until = time.monotonic() + PATIENCE
        while time.monotonic() < until:
            shown = self._tmux("capture-pane", "-p", "-J")
            if text not in shown:
                return shown
            time.sleep(0.05)
        raise AssertionError(f"still saw {text!r} in:\n{self.screen()}")

    def visible(self, *, colours: bool = False) -> str:
        """What stands on the screen now, row by row; with `colours` as it was sent."""
        return self._tmux("capture-pane", "-p", *(["-e"] if colours else []))

    def close(self) -> None:
        subprocess.run(
            ["tmux", "-L", self._socket, "kill-server"], capture_output=True, check=False
        )


def tell_the_flap(terminal: Terminal) -> None:
    """Tell of a panel `loan counter flap` what settles its treatment."""
    for name, value in [
        ("kind of part", "original"),
        ("material", "alu"),
        ("defects", "none"),
        ("film gauge", "eddy current"),
        ("film readings", "8.6 8.4 8.7/8.5/8.6 8.5 8.5 mil"),
    ]:
        terminal.type(f"change loan counter flap {name}: {value}")
