"""The turns of the chat: ask, take a command or an answer, say what came of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from cli.chat import trouble, whynot
from cli.chat.bulk import match_panels
from cli.chat.consultation import Consultation
from cli.chat.errands import WORK, CatchUp, Errands
from cli.chat.opening import STANDINGS
from cli.chat.screen import Screen
from cli.chat.turns import Prompt
from cli.chat.words import COMMANDS, Command, command_in, help_lines, walk_named
from engine.errors import InputError, JobChangedError, did_you_mean, is_suggestion
from engine.facts import JobFacts
from engine.words import commands_for, say, typed_for

_ORDERS = ("next", "plan", "done", "sign", "found")
_SHORTEST_COMMAND = 4
_YES = ("yes", "y", "yep", "yeah", "right", "correct")
_NO = ("no", "n", "nope", "wrong")


class Chat(Errands):
    """One conversation over a consultation.

    Where somebody else changed the job meanwhile, `catch_up` brings in what they did, and the
    answer that could not be taken is offered again. `orders` are commands on the work of a stored
    job, `note` keeps a remark, `picture` draws a panel, `walk` keeps how the person walks, `jobs`
    lists the jobs there are. After `run`, `switch_to` names the job the person asked to go over to.
    """

    def __init__(
        self,
        consultation: Consultation,
        screen: Screen,
        width: int,
        write: Callable[[str, JobFacts], None] | None = None,
        catch_up: CatchUp | None = None,
        *,
        orders: Mapping[str, Callable[[str], str]] | None = None,
        note: Callable[[str], str | None] | None = None,
        picture: Callable[[str], str] | None = None,
        walk: Callable[..., None] | None = None,
        jobs: Callable[[], list[tuple[str, str]]] | None = None,
    ) -> None:
        super().__init__(consultation, screen, width, write, catch_up, orders, note, picture)
        self._walk = walk
        self._jobs = jobs
        self.switch_to: str | None = None
        self._default = ""
        self._told_of_default = False
        self.prompts = 0

    def run(self) -> None:
        """Ask until nothing that could be answered would change an outcome, or until `stop`."""
        shown: Prompt | None = None
        idle = False
        while self.switch_to is None:
            prompt = self._next_prompt()
            if prompt is None:
                if not self._orders or (self._talk.turns and not idle):
                    return
                idle = True
                if not self._work():
                    return
                continue
            if prompt != shown:
                self._show(prompt)
                shown = prompt
                if not self._talk.job.panels:
                    self._talk.warm_up()
            try:
                text = self._ask(prompt)
            except EOFError:
                self._say("")
                return
            if not text.strip():
                self._say(say("Type an answer, `don't know`, or `help`."))
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

    def _next_prompt(self) -> Prompt | None:
        prompt = self._forced or self._talk.trouble_prompt()
        if prompt is None:
            found, kept = self._talk.diagnoses()
            if found:
                self._say("")
                self._lines(found)
            for line in kept if self._note else ():
                self._record(line)
            prompt = self._talk.prompt()
        return prompt

    def _record(self, line: str) -> None:
        try:
            self._keep_note(line)
        except JobChangedError:
            self.catch_up()
            self._keep_note(line)

    def _work(self) -> bool:
        """Take a command once nothing is left to ask; False where the person is through."""
        if not self.prompts:
            self._say(
                say(
                    "Nothing is left to ask. `next`, `plan`, `done`, `sign`, `found` "
                    "or `help`; Enter alone ends with the decision."
                )
            )
        self.prompts += 1
        try:
            text = self._screen.ask("> ", self._talk.words(WORK), "", self._bottom(WORK))
        except EOFError:
            return False
        command = command_in(text)
        if not text.strip() or (command is not None and command.name == "stop"):
            return False
        try:
            if command is not None and command.name not in ("skip", "why"):
                self._obey(command, WORK)
            elif command is not None and command.rest:
                self._why(command.rest, WORK)
            elif not self._confirmed(text) and not self._offer_trouble(text):
                self._say(say("Nothing is left to ask; `help` lists what may be typed."))
        except JobChangedError:
            self.catch_up()
            self._say(say("Give the command again where it still holds."))
        return True

    def _take(self, prompt: Prompt, text: str, command: Command | None) -> bool:
        """Take an answer or obey a command; True where the question has to be shown again."""
        if self._confirmed(text):
            return True
        if command is not None:
            return self._obey(command, prompt)
        return self._answer(prompt, text)

    def catch_up(self) -> None:
        """Take over what others did to the job meanwhile, and say it."""
        assert self._catch_up is not None
        job, news = self._catch_up()
        settlements = self._talk.take_over(job)
        self._forced = None
        self._say(say("Somebody else changed this job in the meantime:"))
        for line in news:
            self._say(line, indent="  ")
        self._tell(settlements)

    def _changed_meanwhile(self, error: JobChangedError, prompt: Prompt, text: str) -> None:
        if self._catch_up is None:
            raise error
        self.catch_up()
        self._say(say("Your answer was not taken yet: {text}", text=text))
        if self._screen.prefills:
            self._say(say("It stands in the line; send it again, type over it, or change it."))
            self._told_of_default = True
            self._default = text
            return
        # Lines from a pipe go with their questions: an answer to another one is worse than none.
        after = self._talk.prompt()
        if after is None or (after.spec, after.panels) != (prompt.spec, prompt.panels):
            raise error
        self._answer(after, text)

    # --- asking --------------------------------------------------------------------------------

    def _ask(self, prompt: Prompt) -> str:
        default, self._default = self._default, ""
        if default and self._screen.prefills and not self._told_of_default:
            self._told_of_default = True
            self._say(say("It stands in the line: type over it, or change it with the arrow keys."))
        self.prompts += 1
        return self._screen.ask("> ", self._talk.words(prompt), default, self._bottom(prompt))

    # --- taking answers ------------------------------------------------------------------------

    def _answer(self, prompt: Prompt, text: str) -> bool:
        """Take an answer; True where it was taken."""
        try:
            settlements = self._talk.answer(prompt, text)
        except InputError as error:
            if not self._offer(prompt, text):
                self._refuse(error)
                self._suggest_command(error, text)
                self._default = text
            return False
        self._forced = None
        self._echo(prompt)
        self._tell(settlements)
        return True

    def _suggest_command(self, error: InputError, text: str) -> None:
        """Name the command that may have been meant, where no answer is nearer."""
        word = text.split()[0].lower()
        nearer = error.likely or any(is_suggestion(problem.fix or "") for problem in error.problems)
        if not nearer and len(word) >= _SHORTEST_COMMAND:
            own = (other for name in COMMANDS for other in commands_for(name))
            near = did_you_mean(word, (*COMMANDS, *own))
            if near:
                self._say(say("{near} That is a command.", near=near), indent="  ")

    def _offer(self, prompt: Prompt, text: str) -> bool:
        """Offer what free words may mean; True where they may mean something."""
        found = self._talk.proposal(prompt, text)
        if found is None:
            # What is said panel by panel is an answer, however it is spelled.
            return ":" not in text and ";" not in text and self._offer_trouble(text)
        self._ask_back(
            say("Do you mean {meant}?", meant=found.meant), lambda: self._answer(prompt, found.text)
        )
        return True

    def _offer_trouble(self, text: str) -> bool:
        found = trouble.understood(self._talk.ruleset, self._talk.job, text)
        if found is None or not self._talk.job.panels:
            return False
        if not found.panels:
            self._say(say("That sounds like a fault after spraying ({said}).", said=found.said()))
            self._say(
                say("Say on which panel: trouble {strip} PANEL", strip=text.strip()), indent="  "
            )
            return True
        where = ", ".join(found.panels)
        self._ask_back(
            say(
                "Is it a fault after spraying, to be looked into on {where}? {said}.",
                where=where,
                said=found.said(),
            ),
            lambda: self._in_trouble(found),
        )
        return True

    def _in_trouble(self, found: trouble.Trouble) -> None:
        settlements = self._talk.take_trouble(found)
        self._forced = None
        self._say(f"{', '.join(found.panels)}: {found.said()}", indent="  ")
        self._tell(settlements)

    def _confirmed(self, text: str) -> bool:
        """Settle what was asked back with yes or no; False where the text is something else."""
        then, self._to_confirm = self._to_confirm, None
        word = text.strip().lower().rstrip(".!")
        yes = (*_YES, *typed_for("yes"))
        if then is None or word not in (*yes, *_NO, *typed_for("no")):
            return False
        if word in yes:
            then()
        else:
            self._say(say("Not taken. Say it in other words."))
        return True

    # --- commands ------------------------------------------------------------------------------

    def _obey(self, command: Command, prompt: Prompt) -> bool:
        """Carry out a command; True where the question has to be shown again."""
        if command.name == "help":
            for line in help_lines():
                indent = line[: len(line) - len(line.lstrip())]
                self._say(line.strip(), indent=indent, hang=8 if indent else 2)
        elif command.name == "show":
            self._show_told(command.rest)
        elif command.name == "why":
            self._why(command.rest, prompt)
        elif command.name == "skip":
            self._answer(prompt, say("don't know"))
        elif command.name == "panels":
            self._panels(command.rest)
        elif command.name == "write":
            self._write_file(command.rest)
        elif command.name == "change":
            self._change(command.rest)
        elif command.name == "note":
            self._keep_note(command.rest)
        elif command.name == "job":
            self._go_over(command.rest)
        elif command.name == "by":
            return self._walk_by(walk_named(command.rest))
        elif command.name == "trouble":
            self._trouble(command.rest)
            return True
        elif command.name in _ORDERS:
            return self._order(command)
        elif command.name == "back":
            self._forced = None
            self._back()
            return True
        return False

    def _walk_by(self, way: str | None) -> bool:
        """Walk by panel or by question, or say which it is; True where the question may change."""
        by_panel = self._talk.by_panel if way is None else way == "panel"
        self._say(say("Panel by panel.") if by_panel else say("Each question over all panels."))
        if way is None:
            self._say(say("`by panel` and `by question` choose."))
            return False
        self._talk.walk(by_panel=by_panel)
        if self._walk:
            self._walk(by_panel=by_panel)
        self._forced = None
        return True

    def _go_over(self, name: str) -> None:
        """Go over to another job; without a name, say which there are."""
        if name == self._talk.job.job:
            self._say(say("This is {name}.", name=name))
        elif name:
            self.switch_to = name
        elif self._jobs is None:
            self._say(say("Name the job, as in `job BM-8`."))
        else:
            for other, state in self._jobs()[:STANDINGS]:
                mark = say("this one, ") if other == self._talk.job.job else ""
                self._say(f"{other}: {mark}{state}", indent="  ")
            self._say(say("`job NAME` goes over to one of them, or to a new one."))

    def _trouble(self, text: str) -> None:
        found = trouble.understood(self._talk.ruleset, self._talk.job, text)
        before = trouble.under_way(self._talk.ruleset, self._talk.job, text)
        if found is None and before:
            self._talk.look_again(before)
            self._forced = None
        elif found is None:
            self._refuse(trouble.refuse(self._talk.ruleset, text))
        elif not found.panels:
            self._say(
                say(
                    "{said}. On which panel? `trouble {strip} PANEL`",
                    said=found.said(),
                    strip=text.strip(),
                )
            )
        elif found.sure:
            self._in_trouble(found)
        else:
            question = say("Are these all there? {said}.", said=found.said())
            self._ask_back(question, lambda: self._in_trouble(found))

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
        if whynot.denied(who):
            self._why_not(who, prompt)
            return
        panels = match_panels(who, tuple(self._talk.job.panels))
        if not panels:
            self._no_such_panel(who)
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
            self._say(say("There is no earlier answer to take back."))
            return
        about = turn.prompt.spec.title if turn.prompt.spec else say("the panels")
        self._say(say("Taken back: {about}: {text}", about=about, text=turn.text))
        for line in self._talk.withdrawn:
            self._say(say("Falls with it: {line}.", line=line), indent="  ")
        # The question comes first in any walk, so that the answer is not offered to another one.
        self._forced = turn.prompt if turn.prompt.spec is not None else None
        self._default = turn.text
