"""The turns of the chat: ask, take a command or an answer, say what came of it."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Sequence

from cli.chat.bulk import match_panels
from cli.chat.consultation import Consultation, Prompt, Settlement
from cli.chat.screen import Screen
from cli.chat.words import Command, command_in, help_lines
from engine.choices import choices_of
from engine.errors import InputError, JobChangedError, did_you_mean
from engine.facts import JobFacts
from engine.ruleset.model import FactKind

_PANELS_NAMED = 6


CatchUp = Callable[[], tuple[JobFacts, list[str]]]
"""The job as it is by now, and what others did to it meanwhile, in words."""


class Chat:
    """One conversation over a consultation.

    Where somebody else changed the job meanwhile, `catch_up` brings in what they did, and the
    answer that could not be taken is offered again.
    """

    def __init__(
        self,
        consultation: Consultation,
        screen: Screen,
        width: int,
        write: Callable[[str, JobFacts], None] | None = None,
        catch_up: CatchUp | None = None,
    ) -> None:
        self._talk = consultation
        self._screen = screen
        self._width = max(width, 20)
        self._write = write
        self._catch_up = catch_up
        self._default = ""
        self._forced: Prompt | None = None
        self.prompts = 0

    def run(self) -> None:
        """Ask until nothing that could be answered would change an outcome, or until `stop`."""
        shown: Prompt | None = None
        while True:
            prompt = self._forced or self._talk.prompt()
            if prompt is None:
                return
            if prompt != shown:
                self._show(prompt)
                shown = prompt
            try:
                text = self._ask(prompt)
            except EOFError:
                self._say("")
                return
            if not text.strip():
                self._say("Type an answer, `don't know`, or `help`.")
                continue
            command = command_in(text, frozenset(word.lower() for word in self._choices(prompt)))
            if command is not None and command.name == "stop":
                return
            try:
                again = self._take(prompt, text, command)
            except JobChangedError as error:
                self._changed_meanwhile(error, prompt, text)
                again = True
            if again:
                shown = None

    def _take(self, prompt: Prompt, text: str, command: Command | None) -> bool:
        """Take an answer or obey a command; True where the question has to be shown again."""
        if command is not None:
            return self._obey(command, prompt)
        self._answer(prompt, text)
        return False

    def catch_up(self) -> None:
        """Take over what others did to the job meanwhile, and say it."""
        assert self._catch_up is not None
        job, news = self._catch_up()
        settlements = self._talk.take_over(job)
        self._forced = None
        self._say("Somebody else changed this job in the meantime:")
        for line in news:
            self._say(line, indent="  ")
        self._tell(settlements)

    def _changed_meanwhile(self, error: JobChangedError, prompt: Prompt, text: str) -> None:
        if self._catch_up is None:
            raise error
        self.catch_up()
        self._say(f"Your answer was not taken yet: {text}")
        if self._screen.prefills:
            self._say("It stands in the line below; change it or send it again.")
            self._default = text
            return
        # Lines from a pipe go with their questions: an answer to another one is worse than none.
        after = self._talk.prompt()
        if after is None or (after.spec, after.panels) != (prompt.spec, prompt.panels):
            raise error
        self._answer(after, text)

    # --- asking --------------------------------------------------------------------------------

    def _show(self, prompt: Prompt) -> None:
        self._say("")
        self._say(prompt.text)
        if len(prompt.panels) > 1 and prompt.together:
            self._say("Panels: " + ", ".join(prompt.panels) + ".", indent="  ")
        for line in prompt.how:
            self._say(line, indent="  ")
        choices = self._choices(prompt)
        if choices:
            self._say("One of: " + ", ".join(choices) + ".", indent="  ")
        if len(prompt.panels) > 1 and not prompt.together:
            others = ", ".join(prompt.panels[1 : _PANELS_NAMED + 1])
            more = len(prompt.panels) - 1 - _PANELS_NAMED
            others += f" and {more} more" if more > 0 else ""
            self._say(f"Next: {others}; or several at once: NAME: ...; NAME: ...", indent="  ")

    @staticmethod
    def _choices(prompt: Prompt) -> list[str]:
        if prompt.spec is None or prompt.spec.kind not in (
            FactKind.CHOICE,
            FactKind.SET,
            FactKind.YES_NO,
        ):
            return []
        return [choice.id for choice in choices_of(prompt.spec)]

    def _ask(self, prompt: Prompt) -> str:
        default, self._default = self._default, ""
        self.prompts += 1
        return self._screen.ask("> ", self._talk.words(prompt), default, self._bottom(prompt))

    def _bottom(self, prompt: Prompt) -> str:
        treatments = self._talk.treatments()
        done = sum(1 for treatment in treatments.values() if treatment)
        who = prompt.panels[0] if prompt.panels else "car"
        line = f" {self._talk.job.job} | {who} | {done} of {len(treatments)} panels decided | help "
        return line[: self._width]

    # --- taking answers ------------------------------------------------------------------------

    def _answer(self, prompt: Prompt, text: str) -> None:
        try:
            settlements = self._talk.answer(prompt, text)
        except InputError as error:
            self._refuse(error)
            self._default = text
            return
        self._forced = None
        self._echo(prompt, text)
        self._tell(settlements)

    def _refuse(self, error: InputError) -> None:
        for problem in error.problems:
            self._say(_sentence(problem.message))
            if problem.fix:
                self._say(problem.fix, indent="  ")

    def _echo(self, prompt: Prompt, text: str) -> None:
        """Say how the answer was understood, where that is not plain from the answer itself."""
        if prompt.spec is None:
            return
        about = str(prompt.spec.about)
        groups: dict[str, list[str]] = {}
        for panel in prompt.panels or (None,):
            told = self._talk.job.sheet(about, panel).get(prompt.spec.id)
            if told is not None:
                shown = self._talk.shown(prompt.spec, told)
                groups.setdefault(shown, []).append(panel or "")
        for shown, panels in groups.items():
            named = ", ".join(panel for panel in panels if panel)
            title = prompt.spec.title
            self._say(f"{named}: {title}: {shown}" if named else f"{title}: {shown}", indent="  ")

    def _tell(self, settlements: Sequence[Settlement]) -> None:
        same: dict[tuple[str | None, str], list[str]] = {}
        for settlement in settlements:
            if settlement.treatment or settlement.was:
                key = (settlement.treatment, settlement.why)
                same.setdefault(key, []).append(settlement.panel)
        for (treatment, why), panels in same.items():
            named = ", ".join(panels)
            if treatment:
                self._say(f"=> {named}: {treatment}. {why}")
            else:
                self._say(f"=> {named}: open again.")

    # --- commands ------------------------------------------------------------------------------

    def _obey(self, command: Command, prompt: Prompt) -> bool:
        """Carry out a command; True where the question has to be shown again."""
        if command.name == "help":
            self._lines(help_lines())
        elif command.name == "show":
            self._lines(self._talk.show(command.rest))
        elif command.name == "why":
            self._why(command.rest, prompt)
        elif command.name == "skip":
            self._answer(prompt, "don't know")
        elif command.name == "panels":
            self._panels(command.rest)
        elif command.name == "write":
            self._write_file(command.rest)
        elif command.name == "change":
            self._change(command.rest)
        elif command.name == "back":
            self._forced = None
            self._back()
            return True
        return False

    def _write_file(self, path: str) -> None:
        if self._write is None or not path:
            self._say("Name the file, as in `write van.yaml`.")
            return
        try:
            self._write(path, self._talk.job)
        except InputError as error:
            self._refuse(error)
        else:
            self._say(f"Written to {path}.")

    def _change(self, words: str) -> None:
        """Ask for the named fact, or take the value that follows its name and a colon."""
        named, _, value = words.partition(":")
        try:
            prompt = self._talk.prompt_for(named)
        except InputError as error:
            self._refuse(error)
            return
        self._forced = prompt
        if value.strip():
            self._answer(prompt, value.strip())
            return
        told = self._talk.told(self._forced)
        if told:
            self._default = told

    def _why(self, who: str, prompt: Prompt) -> None:
        if not who:
            self._lines(self._talk.why(prompt))
            return
        panels = match_panels(who, tuple(self._talk.job.panels))
        if not panels:
            near = did_you_mean(who, self._talk.job.panels)
            self._say(f"No panel is called `{who}`. {near or ''}".rstrip())
        for panel in panels:
            self._say(panel)
            self._lines(self._talk.explain(panel))

    def _panels(self, names: str) -> None:
        try:
            self._tell(self._talk.add_panels(names))
        except InputError as error:
            self._refuse(error)

    def _back(self) -> None:
        turn = self._talk.back()
        if turn is None:
            self._say("There is no earlier answer to take back.")
            return
        about = turn.prompt.spec.title if turn.prompt.spec else "the panels"
        self._say(f"Taken back: {about}: {turn.text}")
        self._default = turn.text

    # --- saying --------------------------------------------------------------------------------

    def _lines(self, lines: Sequence[str]) -> None:
        for line in lines:
            indent = line[: len(line) - len(line.lstrip())]
            self._say(line.strip(), indent=indent)

    def _say(self, text: str, indent: str = "") -> None:
        if not text:
            self._screen.say("")
            return
        for line in textwrap.wrap(
            text,
            self._width,
            initial_indent=indent,
            subsequent_indent=indent + "  ",
            break_on_hyphens=False,
        ):
            self._screen.say(line)


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "?", "!")) else ".")
