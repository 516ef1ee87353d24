"""Every error prepwright raises on purpose, in one tree.

    PrepwrightError
    |-- UsageError             the call itself is wrong                      exit 2
    |-- InputError             a file or an answer cannot be taken           exit 3
    |   |-- QuantityError      a number with a unit that cannot be read
    |   |-- DocumentError      text that is not YAML 1.2 core or not JSON
    |   |-- JobFileError       a job file that breaks the job format
    |   |-- RuleSetError       a rule set that breaks the rule set format
    |   `-- ReadingsError      a file of gauge readings that cannot be taken
    |-- ReckoningError         a calculation that lacks an input or got an impossible one   exit 3
    |-- ReasoningDisagreement  the two engines concluded differently         exit 1
    |-- TrailError             the record is broken, or an entry does not fit it         exit 1
    |   `-- JobChangedError    somebody else changed the job in the meantime
    `-- StoreError             the store of the record cannot be used        exit 3

Each input error carries one or more `Problem`s; a problem knows its place in the file, what was
found and what would be right. `format_message()` is what a person sees.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from difflib import get_close_matches

from engine.plaintext import printable
from engine.records import dataclass
from engine.words import say


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """A position in a file; lines and columns count from 1."""

    file: str
    line: int
    column: int

    def __str__(self) -> str:
        return f"{printable(self.file, 500)}:{self.line}:{self.column}"


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with an input.

    `code` is a stable kebab-case name of the kind of problem, `message` says what was found,
    `fix` what would be right.
    """

    code: str
    message: str
    place: Place | None = None
    fix: str | None = None

    def __str__(self) -> str:
        where = f"{self.place}: " if self.place else ""
        fix = f"\n    {self.fix}" if self.fix else ""
        return f"{where}{self.message} [{self.code}]{fix}"


class PrepwrightError(Exception):
    """Base of every error raised on purpose; `exit_code` is what the command ends with."""

    exit_code = 1

    def format_message(self) -> str:
        return str(self)


class UsageError(PrepwrightError):
    """The command was called in a way that makes no sense."""

    exit_code = 2


class InputError(PrepwrightError):
    """An input that cannot be taken; carries every problem found, in file order.

    `likely` holds what may have been meant, in spellings that would be taken, to ask back with.
    """

    exit_code = 3

    def __init__(self, problems: Problem | Iterable[Problem], likely: Sequence[str] = ()) -> None:
        self.likely: tuple[str, ...] = tuple(likely)
        found = (problems,) if isinstance(problems, Problem) else tuple(problems)
        self.problems: tuple[Problem, ...] = tuple(sorted(found, key=_file_order))
        super().__init__("\n".join(str(problem) for problem in self.problems))


class QuantityError(InputError):
    """A quantity that cannot be read."""


class DocumentError(InputError):
    """Text that is not YAML 1.2 core as accepted here, or not JSON."""


class JobFileError(InputError):
    """A job file that breaks the job format."""


class RuleSetError(InputError):
    """A rule set that breaks the rule set format."""


class ReadingsError(InputError):
    """A file of gauge readings that cannot be taken."""


class ReckoningError(PrepwrightError):
    """A calculation that lacks an input or was given an impossible one.

    The message says which input and how to get it. `format_message()` puts the names of parameters
    in words, since a person never typed `area_m2`.
    """

    exit_code = 3

    def format_message(self) -> str:
        return _PARAMETER.sub(_in_words, str(self))


# Only names that end in a unit: anything else with an underscore may be somebody's own word.
_PARAMETER = re.compile(
    r"(?<![`./-])\b([a-z]+(?:_[a-z]+)*)_(percent|m2|um|mil|mm|degC|L|g|h|Pa|ppm)\b"
)
_ABBREVIATED = {"rh": "relative humidity"}


def _in_words(found: re.Match[str]) -> str:
    named = found[1].replace("_", " ")
    return f"{_ABBREVIATED.get(named, named)} ({found[2]})"


class ReasoningDisagreement(PrepwrightError):
    """The two engines concluded differently; nothing may be recommended."""


class TrailError(PrepwrightError):
    """The record is broken, or an entry does not fit it; nothing was added."""


class JobChangedError(TrailError):
    """Somebody else changed the job in the meantime; nothing was added."""


class StoreError(PrepwrightError):
    """The store of the record cannot be opened, read or written."""

    exit_code = 3


def did_you_mean(found: str, known: Iterable[str]) -> str | None:
    """A suggestion naming the nearest known words, or None where nothing is near."""
    near = get_close_matches(found, sorted(set(known)), n=3, cutoff=0.6)
    if not near:
        return None
    return say("Did you mean {words}?", words=say(" or ").join(_marked(word) for word in near))


def is_suggestion(text: str) -> bool:
    """Whether a text is one of `did_you_mean`."""
    return text.startswith(say("Did you mean {words}?", words="`").partition("`")[0] + "`")


def _marked(word: str) -> str:
    return f"`{printable(word, 200)}`"


def _file_order(problem: Problem) -> tuple[str, int, int, str]:
    place = problem.place or Place("", 0, 0)
    return (place.file, place.line, place.column, problem.code)
