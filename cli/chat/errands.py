"""What is done on the side of the questions: work on the job, notes, files, pictures."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from cli.chat import whynot
from cli.chat.account import NOT_KNOWN
from cli.chat.bulk import match_panels
from cli.chat.consultation import Consultation
from cli.chat.screen import Screen
from cli.chat.turns import Prompt
from cli.chat.voice import Voice
from cli.chat.words import Command
from cli.output.waiting import waits_for
from engine.choices import choices_of
from engine.errors import InputError, JobChangedError, PrepwrightError, did_you_mean
from engine.facts import JobFacts
from engine.reasoning.wording import Wording
from engine.ruleset.model import FactKind
from engine.words import commands_for, say, separator, spoken

_PANELS_NAMED = 6

WORK = Prompt(None, (), "", (), (), False)
"""What stands for a question while none is left to ask."""

CatchUp = Callable[[], tuple[JobFacts, list[str]]]
"""The job as it is by now, and what others did to it meanwhile, in words."""


class Errands(Voice):
    """`orders` are commands on the work of a stored job, `note` keeps a remark, `write` writes a
    job file, `picture` draws a panel, `catch_up` gives the job as it is by now.
    """

    def __init__(
        self,
        consultation: Consultation,
        screen: Screen,
        width: int,
        write: Callable[[str, JobFacts], None] | None,
        catch_up: CatchUp | None,
        orders: Mapping[str, Callable[[str], str]] | None,
        note: Callable[[str], str | None] | None,
        picture: Callable[[str], str] | None,
    ) -> None:
        super().__init__(screen, width)
        self._talk = consultation
        self._write = write
        self._catch_up = catch_up
        self._orders = orders or {}
        self._note = note
        self._picture = picture
        self._forced: Prompt | None = None
        self._to_confirm: Callable[[], object] | None = None

    # --- showing a question --------------------------------------------------------------------

    def _show(self, prompt: Prompt) -> None:
        self._say("")
        self._say(prompt.text)
        if len(prompt.panels) > 1 and prompt.together:
            self._say(say("Panels: {panels}.", panels=", ".join(prompt.panels)), indent="  ")
        for line in prompt.how:
            self._say(line, indent="  ")
        choices = self._shown_choices(prompt)
        if choices:
            listed = separator().join(choices)
            several = prompt.spec is not None and prompt.spec.kind is FactKind.SET
            self._say(
                say("One or more of: {choices}.", choices=listed)
                if several
                else say("One of: {choices}.", choices=listed),
                indent="  ",
            )
        if len(prompt.panels) > 1 and not prompt.together:
            others = ", ".join(prompt.panels[1 : _PANELS_NAMED + 1])
            more = len(prompt.panels) - 1 - _PANELS_NAMED
            others += say(" and {more} more", more=more) if more > 0 else ""
            self._say(
                say("Next: {others}; or several at once: NAME: ...; NAME: ...", others=others),
                indent="  ",
            )

    def _shown_choices(self, prompt: Prompt) -> list[str]:
        """The choices by the words to type; in another language than English their texts."""
        ids = self._choices(prompt)
        if spoken() is None or not ids or prompt.spec is None:
            return ids
        return [choice.text for choice in choices_of(prompt.spec)]

    @staticmethod
    def _choices(prompt: Prompt) -> list[str]:
        if prompt.spec is None or prompt.spec.kind not in (
            FactKind.CHOICE,
            FactKind.SET,
            FactKind.YES_NO,
        ):
            return []
        return [choice.id for choice in choices_of(prompt.spec)]

    def _bottom(self, prompt: Prompt) -> str:
        treatments = self._talk.treatments()
        done = sum(1 for treatment in treatments.values() if treatment)
        about = say(str(prompt.spec.about)) if prompt.spec else say("car")
        who = prompt.panels[0] if prompt.panels else about
        if not treatments:
            return say(" {job} | no panels named yet | help ", job=self._talk.job.job)[
                : self._width
            ]
        left = say("nothing left to ask") if prompt is WORK else str(self._talk.remaining())
        decided = say(
            "{done} of {treatments} panels decided", done=done, treatments=len(treatments)
        )
        # What helps most stands first: the end is cut off where the window is narrow.
        line = say(
            " {job} | {who} | {left} | {decided} | help ",
            job=self._talk.job.job,
            who=who,
            left=left,
            decided=decided,
        )
        if len(line) > self._width:
            short = left if prompt is WORK else self._talk.remaining().short()
            line = f" {self._talk.job.job[:12]} | {who[:14]} | {short} | {done}/{len(treatments)} "
        return line[: self._width]

    def _treated(self, treatment: str) -> str:
        return Wording(self._talk.evaluation).treatment(treatment)

    # --- errands -------------------------------------------------------------------------------

    def _order(self, command: Command) -> bool:
        """What the commands on a stored job's work do; the chat then goes on with what they left.

        Raises JobChangedError.
        """
        if command.name not in self._orders:
            self._say(say("Work is recorded for jobs of the store; this one is in a job file."))
            return False
        try:
            said = self._orders[command.name](command.rest)
        except JobChangedError:
            raise
        except PrepwrightError as error:
            self._refuse(error)
            return False
        for line in said.splitlines():
            self._screen.say(line)
        assert self._catch_up is not None
        job, _ = self._catch_up()
        if job != self._talk.job:
            self._talk.take_over(job)
            self._forced = None
            return True
        return False

    def _keep_note(self, text: str) -> None:
        if not text or self._note is None:
            self._say(say("Type the remark behind it, as in `note customer wants the badge back`."))
            return
        try:
            seal = self._note(text)
        except InputError as error:
            self._refuse(error)
        else:
            self._say(say("Noted."))
            if seal:
                self._screen.say(seal)

    def _show_told(self, words: str) -> None:
        who, _, last = words.rpartition(" ")
        if (
            last.lower() not in ("picture", "drawn", *commands_for("picture"))
            or self._picture is None
        ):
            self._lines(self._talk.show(words))
            return
        for panel in match_panels(who, tuple(self._talk.job.panels)) or self._talk.job.panels:
            for line in self._picture(panel).splitlines():
                self._screen.say(line)

    def _why_not(self, text: str, prompt: Prompt) -> None:
        """Why panels named, or else those asked about, did not get a treatment."""
        ruleset, every = self._talk.ruleset, tuple(self._talk.job.panels)
        treatments, panels, left = whynot.asked_about(ruleset, every, text)
        if not treatments:
            named = ", ".join(ruleset.treatments)
            self._say(say("Say which treatment and panel, as in `why not strip roof`."))
            self._say(say("The treatments are {names}.", names=named), indent="  ")
            return
        if left or not every:
            self._no_such_panel(left)
            return
        about = panels or prompt.panels or every
        self._lines(whynot.answers(self._talk.evaluation, treatments, about))

    def _no_such_panel(self, who: str) -> None:
        if not who:
            self._say(say("No panel is named yet."))
            return
        near = did_you_mean(who, self._talk.job.panels)
        self._say(say("No panel is called `{who}`. {part}", who=who, part=near or "").rstrip())

    def _ask_back(self, question: str, then: Callable[[], object]) -> None:
        self._to_confirm = then
        self._say(say("{question} (yes / no, or say it in other words)", question=question))

    def _write_file(self, path: str) -> None:
        if self._write is None or not path:
            self._say(say("Name the file, as in `write van.yaml`."))
            return
        if _is_there(path):
            self._to_confirm = lambda: self._write_out(path)
            self._say(say("{path} is there already. Write over it? (yes / no)", path=path))
        else:
            self._write_out(path)

    def _write_out(self, path: str) -> None:
        assert self._write is not None
        try:
            self._write(path, self._talk.job)
        except InputError as error:
            self._refuse(error)
        else:
            self._say(say("Written to {path}.", path=path))

    def _echo(self, prompt: Prompt) -> None:
        """Say how the last answer was understood, for every panel it told something of."""
        if prompt.spec is None:
            return
        about, before = str(prompt.spec.about), self._talk.turns[-1].before
        panels = self._talk.job.panels if about == "panel" else (None,)
        groups: dict[str, list[str]] = {}
        for panel in panels:
            told = self._talk.job.sheet(about, panel).get(prompt.spec.id)
            if told is not None and told is not before.sheet(about, panel).get(prompt.spec.id):
                shown = self._talk.shown(prompt.spec, told)
                groups.setdefault(shown, []).append(panel or "")
        for shown, names in groups.items():
            named = ", ".join(name for name in names if name)
            title = prompt.spec.title
            self._say(f"{named}: {title}: {shown}" if named else f"{title}: {shown}", indent="  ")
            waits = waits_for(self._talk.evaluation, names[0] or None, prompt.spec)
            if waits:
                known = separator().join(waits)
                self._say(say("It is taken once these are known: {known}.", known=known), "  ")
            if shown == say(NOT_KNOWN):
                where = f"{names[0]} " if len(names) == 1 and names[0] else ""
                later = say(
                    "`change {where}{lower}{title}`",
                    where=where,
                    lower=title[:1].lower(),
                    title=title[1:],
                )
                self._say(
                    say("It stays open; once it is found out: {later}.", later=later), indent="  "
                )


def _is_there(path: str) -> bool:
    try:
        return Path(path).exists()
    except (OSError, ValueError):
        # Writing it says what is wrong with the name.
        return False
