"""What `prepwright --version` says."""

from __future__ import annotations

import platform
from importlib.metadata import PackageNotFoundError, version


def version_text() -> str:
    """Version of prepwright, of Python, which engines reason, and the supplied rule set."""
    from engine.reasoning import second
    from engine.reasoning.decide import EVALUATOR

    reason = second.available()
    other = f"durable-rules {_version('durable-rules')}" if reason is None else None
    engines = f"{EVALUATOR}, {other}" if other else f"{EVALUATOR} (no second engine: {reason})"
    return (
        f"prepwright {_version('prepwright')}\n"
        f"Python {platform.python_version()}\n"
        f"engines: {engines}\n"
        f"rule set: {_ruleset()}"
    )


def _ruleset() -> str:
    from engine.errors import PrepwrightError
    from engine.ruleset.cache import cached_ruleset
    from engine.supplied import supplied_ruleset_folder

    try:
        ruleset = cached_ruleset(supplied_ruleset_folder())
    except PrepwrightError as error:
        # The version is asked for most where something is wrong.
        return f"cannot be loaded: {error}"
    return f"{ruleset.name} {ruleset.version}, digest {ruleset.digest}"


def _version(package: str) -> str:
    try:
        return version(package)
    except PackageNotFoundError:
        return "(not installed)"
