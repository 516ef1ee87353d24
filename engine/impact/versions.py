"""Rule sets as they are named: a folder, a folder as it was in git, or the supplied set.

Whatever is named is copied to a folder of its own first, so that nothing changes under a
comparison that takes minutes, and processes load the very same files.
"""

from __future__ import annotations

import subprocess
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath

from engine.errors import InputError, Problem, RuleSetError, TrailError, UsageError
from engine.plaintext import printable, quoted
from engine.ruleset.entries import SUPPLIED, read_shop_files
from engine.ruleset.load import load_ruleset
from engine.ruleset.model import RuleSet
from engine.ruleset.report import Report
from engine.ruleset.shop_files import SHOP_FILE, builds_on, ruleset_files
from engine.supplied import supplied_ruleset_folder
from engine.trail.rulesets import last_used, ruleset_folder
from engine.trail.store import Store

_FILE = "100"
_RULES = "ruleset.yaml"


@dataclass(frozen=True, slots=True)
class Version:
    """A rule set in a folder of its own. `named` says what was copied, such as `v1:rulesets`."""

    named: str
    folder: Path
    ruleset: RuleSet


def in_folder(folder: Path, into: Path, *, named: str | None = None) -> Version:
    """The rule set in a folder, or a shop's changes with the supplied set below them.

    Raises RuleSetError where it does not load; places in it begin with what was named.
    """
    shown = named or str(folder)
    if not folder.is_dir():
        load_ruleset(folder)
    try:
        copy = _written(ruleset_files(folder), into)
        return Version(shown, copy, load_ruleset(copy))
    except InputError as error:
        raise RuleSetError(_in(shown, problem) for problem in error.problems) from error


def _in(named: str, problem: Problem) -> Problem:
    """A problem of one of two rule sets, told from those of the other."""
    if problem.place is None:
        return problem
    return replace(problem, place=replace(problem.place, file=f"{named}/{problem.place.file}"))


def in_git(revision: str, path: str, into: Path, *, where: Path | None = None) -> Version:
    """The rule set that stood at `path` in a revision of the git repository around `where`.

    `path` counts from the top of the repository, or from `where` if it begins with `./` or `../`.
    A shop's changes are laid over the supplied set their folder holds; else over the one of that
    revision, where the supplied set stands in the same repository; else over that of now, and
    `named` says so.
    Raises UsageError where git, the repository, the revision or the folder is missing.
    """
    git = _Git(where or Path.cwd())
    commit = git.commit(revision)
    files = git.files(commit, git.from_the_top(path))
    named = f"{revision}:{path}"
    if not files:
        raise UsageError(f"{quoted(path)} is no folder with files in revision {quoted(revision)}")
    if not {_RULES, SHOP_FILE} & files.keys():
        raise UsageError(
            f"{quoted(path)} holds no rule set in revision {quoted(revision)}: neither `{_RULES}` "
            f"nor `{SHOP_FILE}` is in it"
        )
    raw = _written(files, into / "from-git")
    named = f"{named} ({commit[:12]})"
    if (raw / _RULES).exists() or (raw / SUPPLIED).exists():
        return in_folder(raw, into, named=named)
    supplied = _supplied_then(git, commit, raw)
    _written({f"{SUPPLIED}/{name}": content for name, content in supplied.items()}, raw.parent)
    version = in_folder(raw, into, named=named)
    return version if supplied else replace(version, named=f"{named} over the supplied set of now")


def _supplied_then(git: _Git, commit: str, shop: Path) -> dict[str, bytes]:
    """The set a shop's folder builds on as a commit has it; empty where it is not in there."""
    name = builds_on(read_shop_files(shop, Report(), with_cases=False))
    try:
        there = supplied_ruleset_folder(name) if name is not None else None
    except UsageError:
        return {}
    path = git.path_of(there) if there is not None else None
    return git.files(commit, path) if path else {}


def since(revision: str, folder: Path, into: Path) -> Version:
    """The rule set of a folder as it stood in a revision of the repository it is in.

    Raises UsageError as `in_git`.
    """
    if not folder.is_dir():
        raise UsageError(f"{folder} is not a folder")
    return in_git(revision, "./", into, where=folder)


def before(new: Version, store: Store | None, into: Path) -> Version:
    """What the rules of a version stood in for.

    The rule set of the same name by which the store decided last, else the supplied set that a
    shop's changes build on, else the supplied set.
    """
    used = last_used(store, new.ruleset.name, kept_at_least=1) if store is not None else None
    if store is not None and used is not None:
        try:
            kept = ruleset_folder(store, used["digest"], into / "kept")
            return in_folder(kept, into, named="the store, used last")
        except (RuleSetError, TrailError):
            # One that loads no longer is told of with each decision that was taken by it.
            pass
    shop = new.ruleset.shop
    if shop is not None:
        return in_folder(new.folder / SUPPLIED, into, named="the supplied set it builds on")
    return in_folder(supplied_ruleset_folder(), into, named="the supplied set")


def git_name(named: str) -> tuple[str, str] | None:
    """The revision and the path in `REVISION:PATH`; None where it names a folder."""
    revision, colon, path = named.partition(":")
    if not colon or Path(named).exists():
        return None
    return revision, path


class _Git:
    """The git repository around a folder, read by the git command."""

    def __init__(self, where: Path) -> None:
        self._where = where
        self._top = ""
        found = self._run("rev-parse", "--show-toplevel", "--show-prefix")
        if found is None:
            raise UsageError(f"{where.resolve()} is in no git repository, so it has no revisions")
        top, _, prefix = found.decode("utf-8", "surrogateescape").partition("\n")
        self._top, self._prefix = top, prefix.rstrip("\n")

    def commit(self, revision: str) -> str:
        """The full name of a revision."""
        found = None
        if revision and not revision.startswith("-"):
            found = self._run("rev-parse", "--verify", "--quiet", f"{revision}^{{commit}}")
        if found is None:
            raise UsageError(
                f"there is no revision {quoted(revision)} in the git repository at "
                f"{printable(self._top)}; `git log --oneline` lists some"
            )
        return found.decode("ascii").strip()

    def from_the_top(self, path: str) -> str:
        """A path as it counts from the top of the repository."""
        if not path.startswith(("./", "../")) and path not in (".", ".."):
            return path.strip("/")
        parts: list[str] = []
        for part in PurePosixPath(self._prefix, path).parts:
            if part == ".." and not parts:
                raise UsageError(f"{quoted(path)} leads out of the git repository")
            if part == "..":
                parts.pop()
            else:
                parts.append(part)
        return "/".join(parts)

    def path_of(self, folder: Path) -> str | None:
        """A folder as it counts from the top of the repository; None where it is outside."""
        top, folder = Path(self._top).resolve(), folder.resolve()
        return folder.relative_to(top).as_posix() if folder.is_relative_to(top) else None

    def files(self, commit: str, path: str) -> dict[str, bytes]:
        """The files below a path in a commit, by their path from there."""
        tree = self._run("ls-tree", "-r", "-z", "--full-tree", f"{commit}:{path}") or b""
        blobs: dict[str, str] = {}
        for line in tree.split(b"\0"):
            about, tab, name = line.partition(b"\t")
            if tab and about.startswith(_FILE.encode()):
                blobs[name.decode("utf-8", "surrogateescape")] = about.decode("ascii").split(" ")[2]
        return dict(zip(blobs, self._contents(list(blobs.values())), strict=True))

    def _contents(self, blobs: list[str]) -> list[bytes]:
        if not blobs:
            return []
        raw = self._run("cat-file", "--batch", given="\n".join(blobs).encode("ascii") + b"\n")
        if raw is None:
            raise UsageError(f"git cannot read its own files at {printable(self._top)}")
        found: list[bytes] = []
        at = 0
        for _ in blobs:
            end = raw.index(b"\n", at)
            size = int(raw[at:end].split(b" ")[2])
            found.append(raw[end + 1 : end + 1 + size])
            at = end + 1 + size + 1
        return found

    def _run(self, *arguments: str, given: bytes = b"") -> bytes | None:
        """What git writes, None where it refuses."""
        try:
            done = subprocess.run(
                ["git", "--no-pager", *arguments],
                cwd=self._where,
                input=given,
                capture_output=True,
                check=False,
            )
        except FileNotFoundError as error:
            raise UsageError(
                "the git command is not installed, and earlier versions of rules are read with it; "
                "name two folders instead"
            ) from error
        if b"dubious ownership" in done.stderr:
            raise UsageError(
                f"git refuses to read {self._where.resolve()}: the repository belongs to somebody "
                "else. `git config --global --add safe.directory FOLDER` allows it."
            )
        return done.stdout if done.returncode == 0 else None


def _written(files: dict[str, bytes], into: Path) -> Path:
    """The files in a new folder inside `into`."""
    into.mkdir(parents=True, exist_ok=True)
    folder = into / "rules"
    for name, content in files.items():
        inside = PurePosixPath(name)
        if inside.is_absolute() or ".." in inside.parts:
            raise UsageError(f"{quoted(name)} is outside the folder of its rule set")
        target = folder.joinpath(*inside.parts)
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(content)
    return folder
