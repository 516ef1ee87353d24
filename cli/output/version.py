"""What `prepwright --version` says."""

from __future__ import annotations

import platform
from importlib.metadata import PackageNotFoundError, version


def version_text() -> str:
    """Version of prepwright, of Python, and which engines reason."""
    from engine.reasoning import second
    from engine.reasoning.decide import EVALUATOR

    reason = second.available()
    other = f"durable-rules {_version('durable-rules')}" if reason is None else None
    engines = f"{EVALUATOR}, {other}" if other else f"{EVALUATOR} (no second engine: {reason})"
    return (
        f"prepwright {_version('prepwright')}\n"
        f"Python {platform.python_version()}\n"
        f"engines: {engines}"
    )


def _version(package: str) -> str:
    try:
        return version(package)
    except PackageNotFoundError:
        return "(not installed)"
