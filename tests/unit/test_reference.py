"""The reference pages: current, whole, linked soundly, and true of the tests they show."""

from __future__ import annotations

import re
import shutil
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest
from markdown_it import MarkdownIt

from cli.main import prepwright, run
from cli.reference import MARK, out_of_date, reference
from cli.reference.markdown import Page, anchor, plain
from engine.ruleset import load_ruleset
from engine.supplied import supplied_ruleset_folder

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
WRITTEN = ROOT / "rulesets" / "reference"
BY_HAND = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "rulesets").glob("*.md"))]


def pages_of(folder: Path) -> dict[str, str]:
    root = prepwright.make_context("prepwright", [], resilient_parsing=True)
    return dict(reference(load_ruleset(folder, with_cases=False), root))


@cache
def pages() -> dict[str, str]:
    return pages_of(supplied_ruleset_folder())


def test_the_pages_are_current() -> None:
    stale = out_of_date(pages(), WRITTEN)
    assert stale == [], "renew them: prepwright rules reference --write rulesets/reference"


def headings(text: str) -> list[str]:
    tokens = MarkdownIt().enable("table").parse(text)
    return [
        anchor("".join(child.content for child in inline.children or ()))
        for opening, inline in pairwise(tokens)
        if opening.type == "heading_open"
    ]


def links(text: str) -> list[str]:
    return [
        str(child.attrs["href"])
        for token in MarkdownIt().enable("table").parse(text)
        for child in token.children or ()
        if child.type == "link_open"
    ]


def dead_links(texts: dict[Path, str]) -> list[str]:
    anchors = {file: headings(text) for file, text in texts.items()}
    dead = []
    for file, text in texts.items():
        for target in links(text):
            if "://" in target:
                continue
            name, _, part = target.partition("#")
            other = (file.parent / name).resolve() if name else file
            if other not in anchors:
                if not other.exists() or part:
                    dead.append(f"{file.name}: {target}")
            elif part and anchors[other].count(part) < 1:
                dead.append(f"{file.name}: {target}")
    return dead


def test_every_link_leads_somewhere() -> None:
    texts = {WRITTEN / file: text for file, text in pages().items()}
    texts |= {file: file.read_text("utf-8") for file in BY_HAND}
    assert sum(len(links(text)) for text in texts.values()) > 500
    assert dead_links(texts) == []


def test_a_dead_link_would_be_seen(tmp_path: Path) -> None:
    texts = {tmp_path / "a.md": "# A\n\n[b](#b) [c](c.md) [a](#a)\n"}
    assert dead_links(texts) == ["a.md: #b", "a.md: c.md"]


@pytest.mark.parametrize("file", ["facts.md", "limits.md", "reckonings.md", "files.md"])
def test_what_is_linked_to_stands_once(file: str) -> None:
    """Two headings of one anchor, such as `film.low` and `fil.mlow`, would hide one of them."""
    found = headings(pages()[file])
    assert sorted(found) == sorted(set(found))


def test_the_pages_are_pleasant_to_read() -> None:
    for file, text in pages().items():
        assert text.startswith(MARK)
        for line in text.splitlines():
            if line.startswith("|"):
                assert len(line) <= 120, f"{file}: {line}"
                continue
            # One piece of code or one link may be longer than a line.
            words = re.sub(r"`[^`]*`|\[[^\]]*\]\([^)]*\)", "x", line)
            assert len(line) <= 100 or len(words.split()) <= 3, f"{file}: {line}"


def test_nothing_is_left_out() -> None:
    ruleset, told = load_ruleset(supplied_ruleset_folder(), with_cases=False), pages()
    for file, names in (
        ("facts.md", ruleset.facts),
        ("limits.md", ruleset.limits),
        ("topics.md", [*ruleset.treatments, *ruleset.holds, *ruleset.cautions]),
    ):
        there = headings(told[file])
        assert [name for name in names if anchor(name) not in there] == []
    for name in ruleset.rules:
        assert f"- **`{name}`**" in told["rules.md"]
    for name in (*ruleset.steps, *ruleset.products, *ruleset.gear, *ruleset.tables):
        assert f"- **`{name}`**" in told["work.md"]


def test_the_tests_shown_can_be_made(tmp_path: Path) -> None:
    """Each condition of the page, put into a rule of a shop, loads."""
    shown = re.findall(r", as in `(.*)`$", pages()["conditions.md"], re.MULTILINE)
    assert len(shown) > 12
    shop = tmp_path / "shop"
    assert run(["rules", "new-shop", str(shop)]) == 0
    rules = [
        f"- rule: shown-{number}\n  about: panel\n  when: {{{condition}}}\n"
        "  then: {caution: dust}\n  because: Shown.\n"
        "  by: the shop lead\n  on: 2026-03-01\n  why: To see that it loads.\n"
        for number, condition in enumerate(shown)
    ]
    (shop / "rules" / "shown.yaml").write_text("".join(rules), "utf-8")
    loaded = load_ruleset(shop, with_cases=False)
    assert {f"shown-{number}" for number in range(len(shown))} <= set(loaded.rules)


def test_a_shop_reads_its_own_changes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shop = tmp_path / "shop"
    shutil.copytree(HERE / "small_shop", shop)
    shutil.copytree(HERE / "small_ruleset", shop / "supplied")
    ruleset = load_ruleset(shop, with_cases=False)
    assert ruleset.shop is not None
    told = pages_of(shop)
    limits = [limit for limit in ruleset.limits.values() if limit.shop and limit.shop.supplied]
    assert limits
    for limit in limits:
        assert limit.shop is not None
        assert f"- The supplied set says {limit.shop.supplied}\n" in told["limits.md"]
    texts = {shop / file: text for file, text in told.items()}
    assert dead_links(texts) == []


def test_the_command_writes_and_compares(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "pages"
    where = str(folder)
    assert run(["rules", "reference", "--check", where]) == 1
    assert "README.md: missing or out of date" in capsys.readouterr().out
    assert run(["rules", "reference", "--write", where]) == 0
    (folder / "own.md").write_text("Our own notes.\n", "utf-8")
    assert run(["rules", "reference", "--check", where]) == 0
    (folder / "facts.md").write_text("Something else.\n", "utf-8")
    (folder / "gone.md").write_text(f"{MARK}\n\nA page there was once.\n", "utf-8")
    capsys.readouterr()
    assert run(["rules", "reference", "--check", where]) == 1
    told = capsys.readouterr().out
    assert "facts.md: missing or out of date" in told
    assert "gone.md" in told
    assert "own.md" not in told
    assert f"prepwright rules reference --write {where}" in told
    assert run(["rules", "reference"]) == 2
    assert run(["rules", "reference", "--write", where, "--check", where]) == 2


def test_words_from_a_rule_set_are_never_markup() -> None:
    hostile = "<script>*x*</script> [a](b) `c`\n\n# not a heading"
    told = Page("a.md", "A", "")
    told.paragraph(plain(hostile))
    html = MarkdownIt("commonmark").render(told.text())
    assert "&lt;script&gt;*x*&lt;/script&gt; [a](b) <code>c</code> # not a heading" in html
    assert html.count("<h1>") == 1
