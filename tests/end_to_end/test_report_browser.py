"""Reports in a browser: they print on their paper, nothing runs over its edge, text stands out."""

from __future__ import annotations

import html
import json
import re
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from conftest import Prepwright
from installed import SAMPLE

from engine.supplied import demo_folder

CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser"))), None)

pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="chromium is not installed")

READERS = ("shop", "customer", "crew")
LONG = "w" * 70
SALOON = (
    "front bumper", "bonnet", "roof", "boot lid", "rear bumper", "front wing left",
    "front wing right", "front door left", "front door right", "rear door left",
    "rear door right", "quarter panel left", "quarter panel right", "sill left", "sill right",
)  # fmt: skip
MM = 96 / 25.4
"""One millimetre in CSS pixels: CSS Values and Units, an inch is 96 px."""

# Width of the sheet less two margins of 12 mm; ISO 216 A4 is 210 x 297 mm, Letter 8.5 x 11 in.
PAPERS = {"A4": (210 - 24, 210, 297), "Letter": (215.9 - 24, 215.9, 279.4)}

_MEASURE = """<!DOCTYPE html><meta charset="utf-8">
<iframe id="page" style="width:%(width)dpx;height:900px;border:0" srcdoc="%(page)s"></iframe>
<script>
const rgb = text => (text.match(/[\\d.]+/g) || []).map(Number);
const linear = c => c / 255 <= 0.03928 ? c / 255 / 12.92 : ((c / 255 + 0.055) / 1.055) ** 2.4;
const luminance = c => 0.2126 * linear(c[0]) + 0.7152 * linear(c[1]) + 0.0722 * linear(c[2]);
const contrast = (a, b) => {
  const [dark, light] = [luminance(a), luminance(b)].sort((x, y) => x - y);
  return (light + 0.05) / (dark + 0.05);
};
document.getElementById("page").onload = event => {
  const doc = event.target.contentDocument, view = event.target.contentWindow;
  const over = [], faint = [];
  let seen = 0;
  for (const element of doc.body.querySelectorAll("*")) {
    const box = element.getBoundingClientRect();
    if (box.width && box.right > doc.documentElement.clientWidth + 0.5)
      over.push(element.tagName + " " + element.textContent.slice(0, 40));
    const own = [...element.childNodes].some(n => n.nodeType === 3 && n.data.trim());
    if (!own || element.closest("title")) continue;
    seen += 1;
    const style = view.getComputedStyle(element);
    const ink = rgb(element instanceof view.SVGElement ? style.fill : style.color);
    let ground = element;
    while (ground && (rgb(view.getComputedStyle(ground).backgroundColor)[3] ?? 1) === 0)
      ground = ground.parentElement;
    const under = ground ? rgb(view.getComputedStyle(ground).backgroundColor) : [255, 255, 255];
    if (contrast(ink, under) < 4.5) faint.push(element.textContent.slice(0, 40));
  }
  const cut = [];
  for (const svg of doc.querySelectorAll("svg.plan, svg.section, svg.dots")) {
    const sheet = svg.getBoundingClientRect();
    for (const text of svg.querySelectorAll("text")) {
      const box = text.getBoundingClientRect();
      if (box.right > sheet.right + 1 || box.left < sheet.left - 1)
        cut.push(svg.getAttribute("class") + ": " + text.textContent.trim());
    }
  }
  const wide = [];
  for (const plate of doc.querySelectorAll("g.plate")) {
    const room = plate.querySelector("rect").getBoundingClientRect().width;
    for (const text of plate.querySelectorAll("text"))
      if (text.getBoundingClientRect().width > room) wide.push(text.textContent);
  }
  const out = document.createElement("pre");
  out.id = "measured";
  out.textContent = JSON.stringify({
    client: doc.documentElement.clientWidth, scroll: doc.documentElement.scrollWidth,
    over, faint, cut, wide, seen, title: doc.title,
    drawings: doc.querySelectorAll("svg.plan, svg.section").length,
  });
  document.body.append(out);
};
</script>
"""


class Browser:
    """A headless browser with a profile of its own."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def _run(self, *words: str) -> str:
        done = subprocess.run(
            [
                str(CHROMIUM),
                "--headless",
                "--no-sandbox",
                "--disable-gpu",
                "--disable-dev-shm-usage",
                f"--user-data-dir={self._folder / 'profile'}",
                *words,
            ],
            capture_output=True,
            timeout=120,
            check=True,
        )
        return done.stdout.decode("utf-8", "replace")

    def opens_pages(self) -> bool:
        """Whether it works at all here: some are stubs, or may not read temporary files."""
        page = self._folder / "probe.html"
        page.write_text("<p>it opens</p>", "utf-8")
        try:
            return "it opens" in self._run("--dump-dom", page.as_uri())
        except (subprocess.SubprocessError, OSError):
            return False

    def measure(self, page: Path, width: float) -> dict[str, Any]:
        """What a page comes to inside a frame of so many pixels: the page itself runs nothing."""
        harness = self._folder / "measure.html"
        text = html.escape(page.read_text("utf-8"), quote=True)
        harness.write_text(_MEASURE % {"width": round(width), "page": text}, "utf-8")
        dom = self._run("--virtual-time-budget=10000", "--dump-dom", harness.as_uri())
        found = re.search(r'<pre id="measured">(.*?)</pre>', dom, re.DOTALL)
        assert found is not None, dom[-500:]
        measured: dict[str, Any] = json.loads(html.unescape(found[1]))
        return measured

    def printed(self, page: Path) -> bytes:
        pdf = self._folder / "page.pdf"
        self._run("--no-pdf-header-footer", f"--print-to-pdf={pdf}", page.as_uri())
        return pdf.read_bytes()


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        found = Browser(Path(folder))
        if not found.opens_pages():
            pytest.skip("chromium is installed and opens no page here")
        yield found


@pytest.fixture(scope="module")
def jobs(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The bookmobile, a panel whose name is one long word, and forty panels on a saloon."""
    folder = tmp_path_factory.mktemp("jobs")
    long = folder / "long.yaml"
    long.write_text(SAMPLE.replace("  bonnet:", f"  {LONG}:"), "utf-8")
    many = folder / "many.yaml"
    head, panel = SAMPLE.split("  bonnet:")
    names = [*SALOON, *(f"{number} {LONG}" for number in range(40 - len(SALOON)))]
    many.write_text(head + "".join(f"  {name}:{panel}" for name in names), "utf-8")
    return {"bookmobile": demo_folder() / "bookmobile.yaml", "long": long, "many": many}


def page_of(
    prepwright: Prepwright, job: Path, folder: Path, reader: str, paper: str = "A4"
) -> Path:
    page = folder / f"{reader}.html"
    done = prepwright(
        "report", job, "--html", page, "--for", reader, "--paper", paper, "--one-engine"
    )
    assert done.returncode == 0, done.stderr.decode()
    return page


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize("job", ["bookmobile", "long", "many"])
def test_nothing_runs_over_the_edge_and_all_text_stands_out(
    prepwright, jobs, browser, tmp_path, job, reader, paper
):
    page = page_of(prepwright, jobs[job], tmp_path, reader, paper)
    measured = browser.measure(page, PAPERS[paper][0] * MM)
    assert measured["title"].startswith("BM-7 - ")
    assert measured["seen"] > 20
    assert measured["drawings"] >= 1
    assert measured["scroll"] <= measured["client"]
    assert measured["over"] == []
    # 4.5:1 at least, WCAG 2.1, success criterion 1.4.3, level AA.
    assert measured["faint"] == []
    assert measured["cut"] == []
    assert measured["wide"] == []


def test_the_measure_would_notice(browser, tmp_path):
    """A page with what is wrong on purpose, so that the checks above are known to see it."""
    page = tmp_path / "wrong.html"
    page.write_text(
        '<title>wrong</title><div style="width:2000px">wide</div><p style="color:#bbb">faint</p>'
        '<svg class="plan" viewBox="0 0 100 20" style="width:300px"><text x="80">cut off</text>'
        '<g class="plate"><rect width="5" height="9"/><text>too wide</text></g></svg>',
        "utf-8",
    )
    measured = browser.measure(page, 700)
    assert measured["scroll"] > measured["client"]
    assert any(text.startswith("DIV wide") for text in measured["over"])
    assert [text for text in measured["faint"] if "faint" in text]
    assert measured["cut"] == ["plan: cut off"]
    assert measured["wide"] == ["too wide"]


@pytest.mark.parametrize("paper", PAPERS)
def test_every_page_prints_on_its_paper(prepwright, jobs, browser, tmp_path, paper):
    _, across, down = PAPERS[paper]
    for reader in READERS:
        page = page_of(prepwright, jobs["bookmobile"], tmp_path, reader, paper)
        pdf = browser.printed(page)
        boxes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", pdf)
        assert boxes
        for width, height in boxes:
            # PDF user space: 72 units to the inch, ISO 32000-1, 8.3.2.3.
            assert float(width) * 25.4 / 72 == pytest.approx(across, abs=0.5)
            assert float(height) * 25.4 / 72 == pytest.approx(down, abs=0.5)


pdftotext = pytest.mark.skipif(
    shutil.which("pdftotext") is None, reason="pdftotext is not installed"
)


def sheets(browser: Browser, page: Path, *words: str) -> list[str]:
    """What is to be read on each printed sheet."""
    pdf = page.with_suffix(".pdf")
    pdf.write_bytes(browser.printed(page))
    done = subprocess.run(
        ["pdftotext", *words, str(pdf), "-"], capture_output=True, check=True, timeout=60
    )
    return done.stdout.decode("utf-8").split("\f")[:-1]


def headings(page: Path) -> set[str]:
    """Every heading of a page, as it reads."""
    found = re.findall(
        r'<(h2|h3)[^>]*>(.*?)</\1>|<p class="label">(.*?)</p>|<tr class="group[^>]*>(.*?)</tr>',
        page.read_text("utf-8"),
        re.DOTALL,
    )
    texts = (re.sub(r"<[^>]*>", "", "".join(each[1:])) for each in found)
    return {" ".join(html.unescape(text).split()) for text in texts}


@pdftotext
def test_what_is_printed_can_be_read(prepwright, jobs, browser, tmp_path):
    page = page_of(prepwright, jobs["bookmobile"], tmp_path, "shop")
    text = " ".join(" ".join(sheets(browser, page)).split())
    for wanted in ("Job BM-7", "3 partial-strip", "13.3 mil", "11.3 mil comes off", "limit"):
        assert wanted in text
    assert "These cautions are pointers, not advice." in text


@pdftotext
@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("reader", READERS)
def test_no_heading_ends_a_sheet_and_no_panel_is_torn_over_two(
    prepwright, jobs, browser, tmp_path, reader, paper
):
    page = page_of(prepwright, jobs["bookmobile"], tmp_path, reader, paper)
    named = headings(page)
    assert len(named) > 5
    printed = sheets(browser, page, "-layout")
    cards = 0
    for number, sheet in enumerate(printed, 1):
        lines = [" ".join(line.split()) for line in sheet.splitlines() if line.strip()]
        foot = lines.pop()
        assert foot.startswith("Job BM-7 · ")
        assert foot.replace(" ", "").endswith(f"{number}/{len(printed)}")
        assert lines[-1] not in named
        begun = sum(1 for line in lines if re.fullmatch(r"\d+ .* [a-z-]+ - [A-Z][a-z ]+", line))
        assert begun == lines.count("Worked out")
        cards += begun
    assert cards == (15 if reader == "shop" else 0)
