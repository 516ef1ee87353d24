"""Where a conversation keeps its job: in a job file, or in the shop's store."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from cli.jobs import check_known
from engine.errors import InputError
from engine.words import say

if TYPE_CHECKING:
    from engine.facts import JobFacts
    from engine.ruleset.model import RuleSet
    from engine.trail import Store


class Keeper(Protocol):
    """Holds a job. `save` returns only once the job is safe."""

    resumed: bool

    @property
    def where(self) -> str: ...

    def load(self) -> JobFacts: ...

    def save(self, facts: JobFacts) -> None: ...

    def note(self, text: str) -> None:
        """Keep a remark with the job. Raises InputError where it cannot be kept."""


class FileKeeper:
    """A job in a job file, written whole after every answer."""

    def __init__(self, path: Path, name: str, ruleset: RuleSet) -> None:
        self._path, self._name, self._ruleset = path, name, ruleset
        self.resumed = path.exists()
        self._notes: tuple[str, ...] = ()
        self._facts: JobFacts | None = None

    @property
    def where(self) -> str:
        return str(self._path)

    def load(self) -> JobFacts:
        if self.resumed:
            from engine.document import read_document
            from engine.jobfile import read_job
            from engine.jobreader import job_notes

            facts = read_job(self._path, self._ruleset)
            self._notes = job_notes(read_document(self._path))
        else:
            facts = new_job(self._name)
        self._facts = facts
        return facts

    def save(self, facts: JobFacts) -> None:
        from engine.jobfile import write_job

        # A job file names at least one panel; before that there is nothing to keep.
        self._facts = facts
        if facts.panels:
            write_job(self._path, facts, self._ruleset, self._notes)

    def note(self, text: str) -> None:
        from engine.answers import read_text

        self._notes = (*self._notes, read_text(text, say("the note"), longest=2000))
        if self._facts is not None:
            self.save(self._facts)


class StoreKeeper:
    """A job in the store: every accepted answer is an entry of the record.

    Where somebody else changed the job meanwhile, `save` raises JobChangedError and keeps nothing;
    `catch_up` then takes over what the record holds now. `rules` is the folder of the rule set,
    kept with the first answer, so that it can be told later whether the rules changed since.
    """

    def __init__(
        self, store: Store, name: str, ruleset: RuleSet, actor: str, rules: Path | None = None
    ) -> None:
        self._store, self._name, self._ruleset, self._actor = store, name, ruleset, actor
        self.resumed = store.last(name) > 0
        self._kept = new_job(name)
        self._last = 0
        self._rules = rules

    @property
    def where(self) -> str:
        return say("the store {path}", path=self._store.path)

    @property
    def last(self) -> int:
        """The number of the last entry of the job this keeper knows of; 0 where there is none."""
        return self._last

    def load(self) -> JobFacts:
        if self._store.last(self._name):
            from engine.trail import job_facts

            with self._store.reading():
                self._kept = job_facts(self._store, self._name)
                self._last = self._store.last(self._name)
            check_known(self._kept, self._ruleset)
        return self._kept

    def catch_up(self) -> tuple[JobFacts, list[str]]:
        """The job as it is now, and what others did to it since it was loaded, in words."""
        from cli.output.trail_text import said

        seen = self._last
        facts = self.load()
        entries = self._store.entries(self._name, first=seen + 1, last=self._last)
        return facts, [said(entry) for entry in entries]

    def save(self, facts: JobFacts) -> None:
        from engine.trail import opening
        from engine.trail.changing import changes

        drafts = (
            changes(self._kept, facts, self._actor)
            if self._last
            else (opening(facts, self._actor),)
        )
        if drafts:
            self._keep_rules()
            self._last = self._store.append(*drafts, expected_last=self._last)[-1].sequence
        self._kept = facts

    def _keep_rules(self) -> None:
        from engine.errors import TrailError
        from engine.trail.rulesets import digests, files_of, keep_files

        folder, self._rules = self._rules, None
        if folder is None or self._ruleset.digest in digests(self._store):
            return
        # Rules that somebody is just changing are no reason to lose an answer.
        with suppress(TrailError, InputError):
            keep_files(self._store, self._ruleset, files_of(folder), self._actor)

    def note(self, text: str) -> None:
        from engine.answers import read_text
        from engine.trail import Draft, EntryKind

        said = read_text(text, say("the note"), longest=2000)
        if not self._last:
            self.save(self._kept)
        draft = Draft(EntryKind.NOTE, self._actor, {"text": said}, self._name)
        self._last = self._store.append(draft, expected_last=self._last)[-1].sequence


def new_job(name: str) -> JobFacts:
    """A job nobody has told anything of. Raises InputError where the name cannot be taken."""
    from engine.answers import read_text
    from engine.facts import JobFacts

    return JobFacts(read_text(name, say("the job's name")))
