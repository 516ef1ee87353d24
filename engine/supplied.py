"""Where the files that come with prepwright stand, in a checkout and in an installed wheel."""

from __future__ import annotations

from pathlib import Path

from engine.errors import UsageError, did_you_mean

_PACKAGE = Path(__file__).resolve().parent


def supplied_ruleset_folder(name: str = "refinish") -> Path:
    """The folder of a supplied rule set.

    Raises UsageError where none is supplied under that name.
    """
    sets = _supplied("rulesets")
    folder = sets / name
    if (folder / "ruleset.yaml").is_file():
        return folder
    there = sorted(path.parent.name for path in sets.glob("*/ruleset.yaml"))
    listed = "Supplied are: " + ", ".join(there) if there else "None is installed"
    fix = did_you_mean(name, there) or f"{listed}."
    raise UsageError(f"no rule set named `{name}` is supplied. {fix}")


def schema_folder() -> Path:
    """The folder of the JSON Schemas. Raises UsageError where it is not installed."""
    return _supplied("shared", "schemas")


def demo_folder() -> Path:
    """The folder of the demonstration jobs. Raises UsageError where it is not installed."""
    return _supplied("shared", "demo")


def new_shop_folder() -> Path:
    """The folder of the files a shop starts from. Raises UsageError where it is not installed."""
    return _supplied("shared", "new-shop")


def help_folder() -> Path:
    """The folder of the manual's words. Raises UsageError where it is not installed."""
    return _supplied("shared", "help")


def report_folder() -> Path:
    """The folder of what reports are drawn and worded with. Raises UsageError if it is missing."""
    return _supplied("shared", "report")


def languages_folder() -> Path:
    """The folder of the program's own sentences by language. Raises UsageError if missing."""
    return _supplied("shared", "languages")


def _supplied(*parts: str) -> Path:
    # A wheel carries the files inside the package; a checkout has them beside it.
    for root in (_PACKAGE / "data", _PACKAGE.parent):
        folder = root.joinpath(*parts)
        if folder.is_dir():
            return folder
    raise UsageError(
        f"the files `{'/'.join(parts)}` that come with prepwright are missing; install it again"
    )
