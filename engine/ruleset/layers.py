"""Where the entries of a rule set come from: one folder, or a shop's changes over another."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Protocol

from engine.ruleset.entries import Entries, Entry, Files, collect, collect_list
from engine.ruleset.model import RuleSet
from engine.ruleset.report import Report


class Layers(Protocol):
    """The entries the loader builds from, by the kind of file they stand in."""

    @property
    def content(self) -> dict[str, bytes]:
        """The bytes of every file by its name; what the digest is taken of."""
        ...

    @property
    def set_aside(self) -> Entries:
        """Supplied rules that a shop retired or replaced."""
        ...

    def collect(self, kind: str, *keys: str, what: str) -> Entries:
        """The entries under `keys` of every file of that kind, by id."""
        ...

    def collect_list(self, kind: str, *keys: str, named_by: str, what: str) -> Entries:
        """As `collect`, from lists whose items carry their id under `named_by`."""
        ...

    def only(self, kind: str) -> Entry | None:
        """The one file of that kind."""
        ...

    def every(self, kind: str) -> list[Entry]:
        """All files of that kind."""
        ...

    def check_regions(self, regions: Mapping[str, object]) -> None:
        """Report a region that is chosen here and that the rule set does not have."""
        ...

    def finish(self, ruleset: RuleSet) -> RuleSet:
        """The rule set built from these entries, with what only the layers know."""
        ...


@dataclass(frozen=True, slots=True)
class OneFolder:
    """A rule set that stands in one folder."""

    files: Files
    report: Report
    set_aside: Entries = field(default_factory=dict)

    @property
    def content(self) -> dict[str, bytes]:
        return self.files.content

    def collect(self, kind: str, *keys: str, what: str) -> Entries:
        return collect(self.files, kind, *keys, what=what, report=self.report)

    def collect_list(self, kind: str, *keys: str, named_by: str, what: str) -> Entries:
        return collect_list(
            self.files, kind, *keys, named_by=named_by, what=what, report=self.report
        )

    def only(self, kind: str) -> Entry | None:
        documents = self.files.documents[kind]
        return documents[0] if documents else None

    def every(self, kind: str) -> list[Entry]:
        return self.files.documents[kind]

    def check_regions(self, regions: Mapping[str, object]) -> None:
        return

    def finish(self, ruleset: RuleSet) -> RuleSet:
        return ruleset
