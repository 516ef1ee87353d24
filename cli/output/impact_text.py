"""What an edit of the rules would change, as text."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from cli.output.page import Page
from cli.output.style import Style
from engine.impact.as_json import in_order, title_of, treatments_in_order
from engine.impact.cause import Cause, How
from engine.impact.fitting import Misfit
from engine.impact.report import Impact
from engine.impact.tally import Count, Example, Given, Left, Sum, Tally
from engine.impact.versions import Version
from engine.plan.units import Units
from engine.quantity import Kind

_HOW = {
    How.FIRES: "fires now",
    How.QUIET: "no longer fires",
    How.OPEN: "is open now",
    How.ADDED: "is a new rule",
    How.GONE: "is no rule any more",
    How.SAYS: "gives something else",
    How.WINS: "is not overruled any more",
    How.LOSES: "is overruled now",
}
_WHY = {
    Misfit.UNKNOWN: "do not know it",
    Misfit.NOT_TOLD: "work it out and do not take it from people",
    Misfit.OTHER_SUBJECT: "have it told of something else",
    Misfit.OTHER_VALUE: "do not know the value told",
}
_KINDS = ("hold", "caution", "step")
_MOST_FAILED = 10
_MOST_NAMED = 3

_Cause = tuple[tuple[Cause, ...], str, int]
"""Why something came or went, on what, and on how many."""


def impact_text(found: Impact, style: Style, *, no_store: str | None = None) -> str:
    """The stored decisions first, then the worked cases; `no_store` says why there are no former.

    In either what changes the outcome of a panel comes before what changes the work.
    """
    page = Page(style)
    new = found.new.ruleset
    page.heading(f"Impact of {new.name} {new.version}")
    page.paragraph(f"New rules: {_version(found.new)}")
    if found.old is not None:
        page.paragraph(f"Old rules: {_version(found.old)}")
    elif found.stored is not None:
        page.paragraph("Old rules of a stored decision: those it was taken by")
    if found.old is None and found.worked is not None:
        page.paragraph(f"Old rules of the worked cases: {_version(found.beside)}")
    if found.stored is not None:
        which = "all of them" if found.every else "the last of each job"
        _Part(page, found, found.stored, "decision").write(f"Stored decisions, {which}")
    elif no_store is not None:
        page.blank()
        page.paragraph(no_store)
    if found.worked is not None:
        _Part(page, found, found.worked, "worked case").write("Worked cases")
    page.blank()
    page.paragraph(_verdict(found))
    if found.seal:
        page.paragraph(f"Seal of the record: {found.seal}")
    return page.text()


def _version(version: Version) -> str:
    ruleset = version.ruleset
    return f"{ruleset.name} {ruleset.version} in {version.named} ({ruleset.digest[:19]}...)"


def _verdict(found: Impact) -> str:
    parts = ((found.stored, "decision"), (found.worked, "worked case"))
    looked_at = [(tally, noun) for tally, noun in parts if tally is not None and tally.jobs]
    if not looked_at:
        return "There was nothing to compare."
    changed = [_many(tally.changed, noun) for tally, noun in looked_at if tally.changed]
    said = f"{' and '.join(changed)} would come out otherwise" if changed else "Nothing changes"
    failed = sum(tally.failed for tally, _ in looked_at)
    left = f"; {failed:,} could not be compared" if failed else ""
    return f"{said}{left}."


class _Part:
    """What was found over the stored decisions, or over the worked cases."""

    def __init__(self, page: Page, found: Impact, tally: Tally, noun: str) -> None:
        self._page = page
        self._found = found
        self._tally = tally
        self._noun = noun
        self._units = Units(found.new.ruleset)

    def write(self, heading: str) -> None:
        tally, page = self._tally, self._page
        page.heading(heading)
        page.paragraph(
            f"{_many(tally.jobs, self._noun)}: {tally.changed:,} changed, {tally.same:,} the same, "
            f"{tally.failed:,} not compared"
        )
        self._treatments()
        self._given()
        self._open()
        self._work()
        self._conclusions()
        self._left_out()
        self._failed()

    def _treatments(self) -> None:
        groups = treatments_in_order(self._tally)
        if groups:
            self._label("Treatments")
        for key, treatments in groups:
            panels = treatments.panels
            text = f"{key.was} -> {key.now}: {_many(panels.subjects, 'panel')}"
            self._counted(f"{text}, because {_because(key.because)}", panels)
            for marker, says, counts in (
                ("+", "now", treatments.gained),
                ("-", "no longer", treatments.lost),
            ):
                if counts:
                    listed = self._listed(counts.items(), panels.subjects)
                    self._page.item(f"{says}: {listed}", marker, indent=5)

    def _listed(self, counts: Iterable[tuple[tuple[str, str], int]], usual: int) -> str:
        """Holds, cautions and steps, the kind said once; on how many where not on the usual."""
        by_kind: dict[str, list[str]] = {}
        for (what, name), number in counts:
            shown = name if number == usual else f"{name} ({number:,})"
            by_kind.setdefault(what, []).append(shown)
        return "; ".join(
            f"{what if len(names) == 1 else f'{what}s'} {', '.join(names)}"
            for what in _KINDS
            if (names := by_kind.get(what))
        )

    def _given(self) -> None:
        groups = self._given_by_cause()
        if groups:
            self._label("Other holds, cautions and steps")
        for (because, on, subjects), given in groups.items():
            self._page.item(f"{_because(because)}: {_many(subjects, on)}")
            for marker, says, gained in (("+", "now", True), ("-", "no longer", False)):
                counts = [
                    ((key.what, key.name), count.subjects)
                    for key, count in given
                    if key.gained is gained
                ]
                if counts:
                    listed = self._listed(counts, subjects)
                    self._page.item(f"{says}: {listed}", marker, indent=5)
            self._page.paragraph(self._shown(given[0][1]), indent=5)

    def _given_by_cause(self) -> dict[_Cause, list[tuple[Given, Count]]]:
        """What came and went for the same reason on as many panels or cars, most first."""
        groups: dict[_Cause, list[tuple[Given, Count]]] = {}
        for key, count in in_order(self._tally.given.items()):
            on = "panel" if count.examples[0].panel is not None else "car"
            groups.setdefault((key.because, on, count.subjects), []).append((key, count))
        return groups

    def _open(self) -> None:
        for count, says in (
            (self._tally.opened, "not every panel is decided any more"),
            (self._tally.closed, "every panel is decided now"),
        ):
            if count.jobs:
                self._label(f"{_many(count.jobs, self._noun)} of which {says}")
                self._page.item(self._shown(count))

    def _work(self) -> None:
        tally = self._tally
        if not tally.worked.jobs:
            return
        self._label(f"Work of the {_many(tally.worked.jobs, self._noun)} in which it differs")
        self._amount("Hours of all people", tally.hours, Kind.TIME)
        for (product, kind), total in tally.products.items():
            self._amount(title_of(self._found, "product", product), total, kind)
        for grade, total in tally.sheets.items():
            self._amount(f"Abrasive {grade}", total, Kind.NUMBER)
        if tally.not_reckoned.jobs:
            self._page.item(
                f"In {_many(tally.not_reckoned.jobs, self._noun)} of these a time or an amount "
                "cannot be reckoned; it is in no sum.",
                marker="!",
            )

    def _amount(self, title: str, total: Sum, kind: Kind) -> None:
        if not total.jobs:
            return
        before, after = (
            self._units.text(span, kind) for span in (total.span_before, total.span_after)
        )
        self._page.item(f"{title}: {before}, now {after}", marker="*")

    def _conclusions(self) -> None:
        if self._tally.facts:
            self._label("Facts with other values")
            self._page.item(_names(self._tally.facts))
        for says, counts in (
            ("Rules that fire where they did not", self._tally.fires),
            ("Rules that no longer fire where they did", self._tally.quiet),
        ):
            if counts:
                self._label(says)
                listed = (
                    f"{rule} ({count.subjects:,})" for rule, count in in_order(counts.items())
                )
                self._page.item(", ".join(listed))

    def _left_out(self) -> None:
        left = in_order(self._tally.left_out.items())
        if left:
            self._label("Told facts that were left out")
        for key, count in left:
            self._counted(f"{_left(key)}: {_many(count.jobs, self._noun)}", count)

    def _failed(self) -> None:
        tally = self._tally
        if not tally.failed:
            return
        self._label("Not compared")
        for each in tally.shown_failed[:_MOST_FAILED]:
            entry = f"entry {each.entry}" if each.entry is not None else ""
            job = f"job {each.job}" if entry and each.job else each.job or ""
            named = f"{entry} ({job})" if entry and job else entry or job
            self._page.item(f"{named}: {each.why}", marker="!")
        if tally.failed > _MOST_FAILED:
            self._page.item(f"and {tally.failed - _MOST_FAILED:,} more; --json names the first 100")

    # --- words --------------------------------------------------------------------------------

    def _label(self, text: str) -> None:
        self._page.blank()
        self._page.label(text)

    def _counted(self, text: str, count: Count, marker: str = "-") -> None:
        self._page.item(text, marker)
        self._page.paragraph(self._shown(count), indent=5)

    def _shown(self, count: Count) -> str:
        """The jobs a group names, each with its panels."""
        named: dict[str, list[str]] = {}
        for example in count.examples[:_MOST_NAMED]:
            named.setdefault(_job(example), []).extend(filter(None, (example.panel,)))
        more = count.jobs - len(named)
        listed = "; ".join(
            f"{job}: {', '.join(panels)}" if panels and self._noun == "decision" else job
            for job, panels in named.items()
        )
        return f"{listed}; and {more:,} more" if more > 0 else listed


def _names(counts: Mapping[str, Count]) -> str:
    return ", ".join(f"{name} ({count.subjects:,})" for name, count in in_order(counts.items()))


def _job(example: Example) -> str:
    return example.job if example.entry is None else f"{example.job} (entry {example.entry})"


def _because(causes: Iterable[Cause]) -> str:
    return " and ".join(f"{cause.rule} {_HOW[cause.how]}" for cause in causes) or "the rules differ"


def _left(left: Left) -> str:
    return f"{left.fact}, since the {'old' if left.old else 'new'} rules {_WHY[left.why]}"


def _many(number: int, noun: str) -> str:
    return f"{number:,} {noun}" if number == 1 else f"{number:,} {noun}s"
