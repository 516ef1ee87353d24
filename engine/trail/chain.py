"""Walks a chain of entries and names every one that was changed, removed, inserted or moved."""

from __future__ import annotations

from collections.abc import Iterable

from engine.errors import TrailError
from engine.plaintext import quoted
from engine.records import dataclass
from engine.trail.canonical import is_canonical
from engine.trail.entry import GENESIS, EntryKind, Row, hash_of, link_hash
from engine.trail.seal import PaperSeal, Seal

MOST_FINDINGS = 1000

NOT_SHOWN = (
    "A sound chain shows that no entry was changed since it was added. It does not show that what "
    "was recorded was true, that the person named made the entry, or that the clock was right.",
)
NOT_SHOWN_WITHOUT_SEAL = (
    "Without a seal that was kept outside the store, on a printed report for one, nobody can tell "
    "whether the last entries were cut off or the whole record was written anew.",
)
NOT_SHOWN_PAST_SEAL = (
    "Nothing kept outside the store pins the entries after that seal yet: print a new one.",
)


@dataclass(frozen=True, slots=True)
class Finding:
    """Something wrong with a record: a stable code, the entry it is about, and what it is."""

    code: str
    sequence: int | None
    message: str

    def __str__(self) -> str:
        where = f"entry {self.sequence}: " if self.sequence is not None else ""
        return f"{where}{self.message} [{self.code}]"


@dataclass(frozen=True, slots=True)
class TrailReport:
    """What verifying a record found.

    `entries` counts those seen, `head` is the seal of the record as it stands. `findings` say what
    is wrong, `more` counts those past the first thousand; `notes` what is worth knowing though
    nothing is wrong; `not_shown` what a sound chain does not prove.
    """

    entries: int
    head: Seal | None
    findings: tuple[Finding, ...]
    more: int
    notes: tuple[str, ...]
    not_shown: tuple[str, ...]

    @property
    def sound(self) -> bool:
        return not self.findings

    def refuse_broken(self) -> None:
        """Raise TrailError, naming what is wrong, where the record is not sound."""
        if self.findings:
            shown = "\n".join(f"    {finding}" for finding in self.findings[:20])
            rest = len(self.findings) - 20 + self.more
            more = f"\n    and {rest} more" if rest > 0 else ""
            raise TrailError(f"the record is broken:\n{shown}{more}")


class Walk:
    """Follows a chain link by link; `seals` are those it must pass, each with where it is known.

    Feed it every entry in order, then ask for the `report`.
    """

    def __init__(self, seals: Iterable[tuple[PaperSeal | Seal, str]] = ()) -> None:
        self.entries = 0
        self._pinned: dict[int, list[tuple[PaperSeal | Seal, str]]] = {}
        for seal, known in seals:
            self._pinned.setdefault(seal.sequence, []).append((seal, known))
        self._held = 0
        self._head: Seal | None = None
        self._at: str | None = ""
        self._findings: list[Finding] = []
        self._more = 0
        self._notes: list[str] = []

    @property
    def head(self) -> Seal | None:
        """The entry reached so far."""
        return self._head

    def found(self, code: str, sequence: int | None, message: str) -> None:
        """Take down something wrong."""
        if len(self._findings) < MOST_FINDINGS:
            self._findings.append(Finding(code, sequence, message))
        else:
            self._more += 1

    def entry(self, row: Row) -> bool:
        """The next entry, in full. Whether it says what it said when it was added."""
        self.entries += 1
        sound = self._same(row)
        self._follow(row.sequence, row.previous, row.hash)
        self._clock(row)
        return sound

    def hidden(self, content: str, job: str | None) -> None:
        """The next entry, of which only the hashes are shown."""
        self.entries += 1
        sequence = (self._head.sequence if self._head else 0) + 1
        previous = self._head.hash if self._head else GENESIS
        self._at = None
        self._step(Seal(sequence, link_hash(sequence, previous, job, content)))

    def report(self) -> TrailReport:
        """What was found, once the whole chain was walked."""
        last = self._head.sequence if self._head else 0
        missed = [pin for pins in self._pinned.values() for pin in pins]
        self._pinned.clear()
        for seal, known in missed:
            self.found(
                "cut-off",
                None,
                f"{known} names entry {seal.sequence}, but the record ends at entry {last}: "
                "its last entries were removed",
            )
        not_shown: tuple[str, ...] = NOT_SHOWN
        if not self._held:
            not_shown += NOT_SHOWN_WITHOUT_SEAL
        elif self._held < last:
            not_shown += NOT_SHOWN_PAST_SEAL
        return TrailReport(
            self.entries,
            self._head,
            tuple(self._findings),
            self._more,
            tuple(self._notes),
            not_shown,
        )

    def _same(self, row: Row) -> bool:
        number = row.sequence if type(row.sequence) is int else None
        try:
            same = bool(hash_of(row) == row.hash)
            why = "it does not match its hash: it was changed after it was added"
        except TrailError as error:
            same, why = False, f"{error}: it was changed after it was added"
        if not same:
            self.found("changed", number, why)
        elif not row.payload.startswith("{") or not is_canonical(row.payload):
            self.found("not-canonical", number, "its payload is no mapping in canonical JSON")
            return False
        elif row.kind not in iter(EntryKind):
            self.found("unknown-kind", number, f"its kind {quoted(row.kind)} is not known here")
            return False
        return same

    def _follow(self, sequence: object, previous: object, hash_: object) -> None:
        expected = (self._head.sequence if self._head else 0) + 1
        before = self._head.hash if self._head else GENESIS
        if type(sequence) is not int or not isinstance(hash_, str):
            self.found("changed", expected, "its number or its hash is none")
            return
        if sequence > expected:
            gone = (
                f"entries {expected} to {sequence - 1} are"
                if sequence - expected > 1
                else f"entry {expected} is"
            )
            self.found("removed", sequence, f"{gone} missing before it")
            for pinned in [pin for pin in self._pinned if expected <= pin < sequence]:
                self._pinned.pop(pinned)
        elif sequence < expected:
            self.found(
                "moved", sequence, f"it stands where entry {expected} belongs: moved or put in"
            )
            return
        elif previous != before:
            self.found(
                "unlinked",
                sequence,
                "it does not follow on the entry before it: one of the two was put in or replaced",
            )
        self._step(Seal(sequence, hash_))

    def _step(self, seal: Seal) -> None:
        self._head = seal
        for pin, known in self._pinned.pop(seal.sequence, ()):
            same = pin.hash == seal.hash if isinstance(pin, Seal) else pin.pins(seal.hash)
            if same and isinstance(pin, PaperSeal):
                self._held = seal.sequence
            elif not same:
                self.found(
                    "other-seal",
                    seal.sequence,
                    f"its hash is not the one {known} names: the record was written anew up to "
                    "here, or the seal belongs to another record",
                )

    def _clock(self, row: Row) -> None:
        if not isinstance(row.at, str):
            return
        known = self._at is not None
        if known and bool(self._at and row.at < self._at) is not bool(row.clock_set_back):
            # Only a hand that chained the entry itself can get here; `_same` has the rest.
            self.found("clock", row.sequence, "its note on the clock contradicts the times")
        elif row.clock_set_back:
            before = f"one of {self._at}" if self._at else "a later one"
            self._notes.append(
                f"entry {row.sequence}, of {row.at}, was added after {before}: "
                "the clock was set back in between"
            )
        self._at = row.at
