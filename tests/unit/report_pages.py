"""Pages of reports made from jobs by the supplied rule set, and what stands on them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import datetime
from fractions import Fraction
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

from cli.report.customer import customer_words
from cli.report.page import For, Paper, Printing, report_html
from cli.report.placing import placed_on
from engine.decision import Decision
from engine.document import parse_document
from engine.facts import JobFacts
from engine.jobfile import parse_job, read_job
from engine.plan import Plan, Progress, make_plan
from engine.reasoning.decide import decide
from engine.ruleset import RuleSet, load_ruleset
from engine.supplied import demo_folder, supplied_ruleset_folder

PRINTED = datetime(2026, 11, 25, 10, 30)
MIL = Fraction(254, 10)
"""One mil in um."""

_VOID = {"meta", "link", "br", "img", "input", "hr", "col"}


@cache
def supplied() -> RuleSet:
    return load_ruleset(supplied_ruleset_folder())


@cache
def bookmobile() -> JobFacts:
    return read_job(demo_folder() / "bookmobile.yaml", supplied())


def job(panels: str, car: str = "topcoat: base-and-clear") -> JobFacts:
    """A job whose panels and car are given as YAML mappings without braces."""
    text = (
        f"prepwright: job/1\njob: T-1\nshop: {{region: us}}\ncar: {{{car}}}\npanels: {{{panels}}}\n"
    )
    return parse_job(parse_document(text, "job.yaml"), supplied())


def planned(facts: JobFacts) -> tuple[Decision, Plan]:
    decision = decide(supplied(), facts)
    return decision, make_plan(supplied(), decision, start=datetime(2026, 11, 30))


def page(
    facts: JobFacts,
    reader: For = For.SHOP,
    *,
    paper: Paper = Paper.A4,
    seal: str | None = None,
    vehicle: str | None = None,
    progress: Progress | None = None,
) -> str:
    decision, plan = planned(facts)
    return report_html(
        supplied(),
        decision,
        plan,
        progress or Progress.none(),
        placed_on(vehicle, tuple(decision.panels), supplied().vocabulary),
        customer_words(),
        Printing(reader, paper, PRINTED, seal),
    )


class _Checker(HTMLParser):
    """Follows a page and notes every element that is closed in the wrong place or never."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.stack: list[str] = []
        self.wrong: list[str] = []
        self.tags: list[tuple[str, Mapping[str, str | None]]] = []
        self.texts: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in _VOID:
            self.stack.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        if not self.stack or self.stack.pop() != tag:
            self.wrong.append(tag)

    def handle_data(self, data: str) -> None:
        if "style" not in self.stack:
            self.texts.append(data)


def parsed(html: str) -> _Checker:
    checker = _Checker()
    checker.feed(html)
    checker.close()
    return checker


def words(html: str) -> str:
    """Everything there is to read on a page, on one line."""
    return " ".join(" ".join(parsed(html).texts).split())


def drawings(html: str, kind: str) -> list[ElementTree.Element]:
    """The drawings of one class, as trees."""
    found = re.findall(rf'<svg class="{kind}".*?</svg>', html, re.DOTALL)
    return [ElementTree.fromstring(svg) for svg in found]


def texts(drawing: ElementTree.Element) -> list[str]:
    return [" ".join("".join(each.itertext()).split()) for each in drawing.iter("text")]


def style_file() -> str:
    import cli.report

    folder = Path(cli.report.__file__).parent / "templates"
    return (folder / "_style.css").read_text("utf-8")
