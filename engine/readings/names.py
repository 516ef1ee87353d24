"""Whose readings they are: the names in a file, the panels of the job, and what a person says."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from engine.errors import Place, did_you_mean
from engine.plaintext import folded, quoted
from engine.readings.findings import Findings
from engine.readings.laid import Laid, Observation
from engine.readings.panels import Certainty, Match, PanelMatcher

_LISTED = 8


class NameFinder:
    """Finds the panel of each name in a file. `given` maps names to panels, or to "" to leave out;
    `panel` is whose readings they all are."""

    def __init__(
        self,
        matcher: PanelMatcher,
        panels: Sequence[str],
        given: Mapping[str, str],
        panel: str | None,
        findings: Findings,
    ) -> None:
        self._matcher = matcher
        self._own = {folded(each): each for each in panels}
        self._findings = findings
        self._given = given
        self._told = {
            folded(name): self._of_job(each, f"given for {quoted(name)}") if each else ""
            for name, each in given.items()
        }
        self._panel = self._of_job(panel, "whose readings these are said to be") if panel else None

    def named(self, laid: Laid, film: Sequence[Observation]) -> dict[str, list[Observation]]:
        """The observations by the name in the file, without what is to be left out.

        Those that stand under no name are under "".
        """
        named: dict[str, list[Observation]] = {}
        for each in film:
            named.setdefault(each.panel.text if each.panel else "", []).append(each)
        self._unused(named)
        batches = set(map(id, laid.batches.values()))
        for name, found in list(named.items()):
            if name and self._told.get(folded(name)) == "":
                laid.left_out.append((found[0].cell.place, f"{name}: not to be taken"))
                del named[name]
            elif found[0].panel is not None and id(found[0].panel) in batches:
                self._findings.assume(f"{quoted(name)} above the readings names their panel")
        return named

    def match(self, name: str, place: Place, *, alone: bool) -> Match:
        """The panel of a name; `alone` where the file has no other."""
        told = self._told.get(folded(name)) if name else None
        if told:
            return Match(told, Certainty.TOLD, 1.0)
        match = self._matcher.match(name) if name else None
        if self._panel is not None:
            return self._with_panel(self._panel, name, match, place, alone)
        if match is None:
            self._findings.refuse(
                "no-panel",
                "the file does not say which panel was read",
                place,
                "Say whose readings they are with `--panel`.",
            )
            return Match(None, Certainty.UNKNOWN, 0.0)
        self._say(name, match, place)
        return match

    def _with_panel(
        self, panel: str, name: str, match: Match | None, place: Place, alone: bool
    ) -> Match:
        if match is None or (alone and match.panel in (None, panel)):
            return Match(panel, Certainty.TOLD, 1.0)
        self._findings.refuse(
            "panel-told-twice",
            f"the file names panels itself, as {quoted(name)} here",
            place,
            f'Leave `--panel` out, or say `--map "{name}={panel}"`.',
        )
        return match

    def _say(self, name: str, match: Match, place: Place) -> None:
        others = " or ".join(map(quoted, match.others))
        if match.panel is None:
            near = f" It may be {others}." if others else ""
            self._findings.refuse(
                "unknown-panel",
                f"{quoted(name)} is no panel of this job",
                place,
                f'Say which one it is, as in `--map "{name}=..."`, or leave it out with '
                f'`--map "{name}="`.{near}',
            )
        elif match.certainty is Certainty.LIKELY:
            near = f" It may also be {others}." if others else ""
            self._findings.ask(
                "likely-panel",
                f"{quoted(name)} is taken for the panel {quoted(match.panel)}",
                place,
                f'If that is wrong, say `--map "{name}=..."`.{near}',
            )
        elif folded(name) != folded(match.panel):
            self._findings.assume(f"{quoted(name)} is the panel {quoted(match.panel)}")

    def _of_job(self, panel: str, what: str) -> str:
        own = self._own.get(folded(panel))
        if own is None:
            panels = list(self._own.values())
            listed = ", ".join(panels[:_LISTED]) + (", ..." if len(panels) > _LISTED else "")
            near = did_you_mean(panel, panels) or f"The panels are: {listed}."
            message = f"the job has no panel {quoted(panel)}, {what}"
            self._findings.refuse("unknown-panel", message, None, near)
        return own or panel

    def _unused(self, named: Mapping[str, object]) -> None:
        there = {folded(name) for name in named}
        for name in self._given:
            if folded(name) not in there:
                listed = ", ".join(filter(None, named)) or "no names"
                self._findings.refuse(
                    "unknown-name",
                    f"no readings in the file stand under {quoted(name)}",
                    None,
                    did_you_mean(name, filter(None, named)) or f"It has: {listed}.",
                )
