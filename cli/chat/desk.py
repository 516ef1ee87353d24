"""Work on a stored job from within the chat: what is next, done, signed, found."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from cli.chat.bulk import match_panels
from engine.errors import UsageError
from engine.plaintext import folded
from engine.words import say

if TYPE_CHECKING:
    from cli.output.style import Style
    from cli.work import Workbench
    from engine.ruleset.model import RuleSet
    from engine.trail import Store


class Desk:
    """Does for the chat what the commands `next`, `plan`, `done`, `sign` and `found` do.

    Every method returns what to say and raises what those commands raise.
    """

    def __init__(
        self,
        store: Store,
        job: str,
        ruleset: RuleSet,
        folder: Path | None,
        who: str,
        style: Style,
    ) -> None:
        self._store, self._job, self._ruleset = store, job, ruleset
        self._folder, self._who, self._style = folder, who, style

    def next(self, _: str = "") -> str:
        from cli.output.next_text import next_text
        from cli.planning import plan_for

        bench = self._bench()
        decision = bench.asked()
        made = plan_for(self._ruleset, decision, bench.progress)
        return self._sealed(next_text(made, decision, self._style))

    def plan(self, _: str = "") -> str:
        from cli.output.plan_text import plan_text
        from cli.planning import plan_for

        bench = self._bench()
        decision = bench.asked()
        made = plan_for(self._ruleset, decision, bench.progress)
        return self._sealed(plan_text(made, decision, self._ruleset, self._style))

    def done(self, words: str) -> str:
        """`STEP [PANEL]`, and what is worth knowing about it after a colon."""
        from cli.recording import pinned
        from cli.working import NotYet, record_done
        from engine.plan.merge import dues

        named, _, note = words.partition(":")
        if not named.strip():
            raise UsageError(
                say("say which step, as in `done mask-up roof`; `next` shows what is due")
            )
        bench = self._bench()
        steps = [due.step for due in dues(self._ruleset, bench.decision)]
        names = [name for step in steps for name in (step.id, step.title)]
        step, panel = named_on(named, bench.facts.panels, names)
        try:
            said = record_done(bench, step, panel, self._who, note=note.strip() or None)
        except NotYet as blocked:
            return "\n".join([say("Not yet:"), *(f"  {text}" for text in blocked.blockers)])
        return "\n".join((*said, pinned(self._store)))

    def sign(self, words: str) -> str:
        """`HOLD [PANEL]: TEXT`."""
        from cli.recording import pinned
        from cli.working import record_signed

        named, _, text = words.partition(":")
        if not named.strip() or not text.strip():
            raise UsageError(
                say(
                    "write what was measured or who signs after a colon, as in `sign "
                    "moisture roof: 0.4 % at six spots`"
                )
            )
        bench = self._bench()
        names = [name for topic in self._ruleset.holds.values() for name in (topic.id, topic.title)]
        hold, panel = named_on(named, bench.facts.panels, names)
        said = record_signed(bench, hold, panel, text.strip(), self._who)
        return "\n".join((*said, pinned(self._store)))

    def found(self, words: str) -> str:
        """`PANEL FACT: VALUE`, several with `;` between them."""
        from cli.working import record_found

        findings = [piece.strip() for piece in words.split(";") if piece.strip()]
        if not findings:
            raise UsageError(say("say what was found, as in `found roof rust: perforated`"))
        return record_found(self._bench(), self._folder, findings, self._who, self._style)

    def _sealed(self, text: str) -> str:
        from cli.jobs import seal_words

        return f"{text}\n{seal_words(self._store)}"

    def _bench(self) -> Workbench:
        from cli.work import Workbench

        if not self._store.last(self._job):
            raise UsageError(say("nothing is recorded of this job yet; name its panels first"))
        return Workbench(self._store, self._job, self._ruleset)

    @property
    def orders(self) -> dict[str, Callable[[str], str]]:
        return {
            "next": self.next,
            "plan": self.plan,
            "done": self.done,
            "sign": self.sign,
            "found": self.found,
        }


def named_on(words: str, panels: Iterable[str], names: Sequence[str]) -> tuple[str, str | None]:
    """What a text names, and on which panel: `mask up left front door`.

    What is known by the whole text is that; else a panel is taken off its end.
    """
    known = {folded(name) for name in names}
    parts, every = words.split(), tuple(panels)
    splits = [(" ".join(parts[:at]), " ".join(parts[at:])) for at in range(1, len(parts))]
    if folded(words) not in known:
        on_panel = [(what, on) for what, on in splits if match_panels(on, every)]
        # A name that is known goes before one that is not, and the longer panel before the shorter.
        for what, on in sorted(on_panel, key=lambda split: folded(split[0]) not in known):
            return what, on
    return words.strip(), None


def changed_rules(
    store: Store, job: str, ruleset: RuleSet, now: dict[str, str | None]
) -> list[str]:
    """What to say where a job was last decided, or last told of, under other rules.

    `now` are the treatments of its panels.
    """
    from engine.trail.work import last_decision

    kept = last_decision(store, job)
    if kept is None:
        return _newer_rules(store, job, ruleset)
    was = kept.payload.get("ruleset") or {}
    if not isinstance(was, dict) or was.get("digest") == ruleset.digest:
        return []
    lines = [
        say(
            "The rules changed since this job was decided on {at}: it was "
            "{old} {old_version} ({short}), it is {name} {version} ({short2}). "
            "Decisions are made anew.",
            at=kept.at[:10],
            old=was.get("name"),
            old_version=was.get("version"),
            short=_short(str(was.get("digest"))),
            name=ruleset.name,
            version=ruleset.version,
            short2=_short(ruleset.digest),
        )
    ]
    outcome = kept.payload.get("outcome") or {}
    panels = outcome.get("panels", {}) if isinstance(outcome, dict) else {}
    for name, treatment in now.items():
        before = panels.get(name, {}).get("treatment") if name in panels else None
        if name in panels and before != treatment:
            lines.append(
                say(
                    "{name}: was {before}, is {now}.",
                    name=name,
                    before=before or say("open"),
                    now=treatment or say("open"),
                )
            )
    return lines


def _newer_rules(store: Store, job: str, ruleset: RuleSet) -> list[str]:
    """What to say where these rules came into the record only after the job was last told of."""
    from engine.trail import EntryKind

    last = store.last(job)
    kept = {
        str(entry.payload.get("digest")): entry.sequence
        for entry in store.entries(kinds=(EntryKind.RULESET_KEPT,))
    }
    ours = kept.get(ruleset.digest)
    if not last or not kept or min(kept.values()) > last or (ours is not None and ours < last):
        return []
    return [
        say(
            "The rules changed since this job was last told of, on {at}: it is {name} {version} "
            "({short}) now. What was told stays; what comes of it is worked out anew.",
            at=store.entry(last).original.at[:10],
            name=ruleset.name,
            version=ruleset.version,
            short=_short(ruleset.digest),
        )
    ]


def _short(digest: str) -> str:
    return digest.rpartition(":")[2][:12]
