"""What a shell may complete: jobs, panels, steps, holds, facts and rules, by what is there.

A rule set is looked through line by line for names and not read: Tab has to answer at once. What
cannot be looked at offers nothing, and never a message in the middle of a line being typed.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click
from click.shell_completion import CompletionItem

_JOB_FILES = ("*.yaml", "*.yml", "*.json")
_LARGEST_FILE = 2_000_000
_NAME = r"([a-z0-9][a-z0-9.-]*)"

Offers = Callable[[click.Context, click.Parameter, str], "list[CompletionItem]"]


def _offering(names: Callable[[click.Context], Iterable[str]]) -> Offers:
    """Offers the names that begin with what is typed; letter case does not count."""

    def offer(ctx: click.Context, _: click.Parameter, typed: str) -> list[CompletionItem]:
        return [CompletionItem(name) for name in _quietly(names, ctx) if _begins(name, typed)]

    return offer


def _quietly(names: Callable[[click.Context], Iterable[str]], ctx: click.Context) -> list[str]:
    try:
        return list(dict.fromkeys(names(ctx)))
    except Exception:
        return []


def _begins(name: str, typed: str) -> bool:
    # A name that would move the cursor or hide itself is not put on anybody's line.
    return name.isprintable() and name.casefold().startswith(typed.casefold())


# --- jobs and panels ---------------------------------------------------------------------------


def _store_jobs(ctx: click.Context) -> Iterator[str]:
    from cli.jobs import open_store
    from engine.trail.sqlite import home

    path = ctx.params.get("store_path")
    if home(path).is_file():
        with open_store(path, read_only=True) as store:
            yield from store.jobs()


def job_names(ctx: click.Context, _: click.Parameter, typed: str) -> list[CompletionItem]:
    """Jobs of the store and job files beside each other; else what files the shell knows of."""
    jobs = _quietly(_store_jobs, ctx)
    files = [str(path) for kind in _JOB_FILES for path in sorted(Path().glob(kind))]
    found = [CompletionItem(name) for name in (*jobs, *files) if _begins(name, typed)]
    return found or [CompletionItem(typed, type="file")]


def _panels(ctx: click.Context) -> Iterable[str]:
    from cli.jobs import is_file, open_store

    job = str(ctx.params["job"])
    if is_file(job):
        import yaml

        if Path(job).stat().st_size > _LARGEST_FILE:
            return ()
        read: Any = yaml.load(Path(job).read_text("utf-8"), yaml.BaseLoader)
        panels = read["panels"]
        return [str(name) for name in panels] if isinstance(panels, dict) else ()
    from engine.trail import job_facts

    with open_store(ctx.params.get("store_path"), read_only=True) as store:
        return tuple(job_facts(store, job).panels)


panel_names = _offering(_panels)


# --- names of a rule set -----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Names:
    """Where names of one sort stand: in which files, in what lines, under which key."""

    files: str
    line: str
    below: str | None = None

    def __call__(self, ctx: click.Context) -> Iterator[str]:
        from engine.supplied import supplied_ruleset_folder

        given = ctx.params.get("ruleset_folder")
        for folder in (supplied_ruleset_folder(), *([Path(given)] if given else [])):
            for path in sorted(folder.glob(self.files)):
                text = path.read_text("utf-8")
                if self.below is not None:
                    under = rf"^{self.below}:.*\n((?:[ #].*\n|\n)*)"
                    found = re.search(under, text, re.MULTILINE)
                    text = found[1] if found else ""
                yield from re.findall(self.line, text, re.MULTILINE)


_rules = _Names("rules/*.yaml", rf"^- rule: {_NAME}")
_facts = _Names("facts/*.yaml", rf"^{_NAME}:")
_limits = _Names("limits.yaml", rf"^{_NAME}:")
_steps = _Names("steps/*.yaml", rf"^  {_NAME}:", below="steps")
_holds = _Names("outcomes.yaml", rf"^  {_NAME}:", below="hold")
_treatments = _Names("outcomes.yaml", rf"^    {_NAME}:", below="treatment")
_products = _Names("products.yaml", rf"^  {_NAME}:", below="products")
_cautions = _Names("cautions.yaml", rf"^  {_NAME}:", below="cautions")

fact_names = _offering(_facts)
step_names = _offering(_steps)
hold_names = _offering(_holds)
treatment_names = _offering(_treatments)
part_names = _offering(
    lambda ctx: (
        name
        for names in (_rules, _facts, _limits, _steps, _holds, _treatments, _cautions, _products)
        for name in names(ctx)
    )
)


# --- options -----------------------------------------------------------------------------------


def _languages(_: click.Context) -> Iterable[str]:
    from engine.words import ENGLISH, tongues

    return (ENGLISH, *tongues())


language_names = _offering(_languages)
