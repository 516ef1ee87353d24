"""What a person chose for the chat and keeps from one talk to the next."""

from __future__ import annotations

import json
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

_WALK = "walk"
_BY_PANEL, _BY_QUESTION = "panel", "question"


def settings_file() -> Path:
    """In the user's folder of settings; never in a job, which tells of the car alone."""
    from platformdirs import user_config_path

    return user_config_path("prepwright", appauthor=False) / "chat.json"


@dataclass(frozen=True, slots=True)
class Settings:
    """The choices of one person, by the name entries are recorded under.

    A file that cannot be read or written costs nothing but the choice: the chat never stops for it.
    """

    path: Path
    who: str

    @property
    def by_panel(self) -> bool:
        """Whether this person walked panel by panel last."""
        return self._chosen().get(self.who) == _BY_PANEL

    def walk(self, *, by_panel: bool) -> None:
        """Keep how this person walks."""
        chosen = {**self._chosen(), self.who: _BY_PANEL if by_panel else _BY_QUESTION}
        with suppress(OSError, UnicodeEncodeError):
            self.path.parent.mkdir(parents=True, exist_ok=True)
            self.path.write_text(json.dumps({_WALK: chosen}, indent=1) + "\n", "utf-8")

    def _chosen(self) -> dict[str, object]:
        try:
            kept = json.loads(self.path.read_text("utf-8"))
        except (OSError, ValueError, RecursionError):
            return {}
        chosen = kept.get(_WALK) if isinstance(kept, dict) else None
        return chosen if isinstance(chosen, dict) else {}
