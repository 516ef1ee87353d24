"""`prepwright report`: a page from a job file or from the store, with the seal of the record."""

from __future__ import annotations

import html
import re
import shutil
from pathlib import Path

import pytest
from conftest import Prepwright
from installed import SAMPLE

from engine.supplied import demo_folder, report_folder, supplied_ruleset_folder

BOOKMOBILE = demo_folder() / "bookmobile.yaml"


def text_of(file: Path) -> str:
    """What is to be read on a page."""
    body = re.sub(r"<style>.*?</style>", "", file.read_text("utf-8"), flags=re.DOTALL)
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", body)).split())


@pytest.mark.parametrize(
    ("reader", "says"),
    [
        ("shop", "Decision and plan for the shop"),
        ("customer", "What will be done to your vehicle"),
        ("crew", "Work sheet for the crew"),
    ],
)
def test_a_job_file_becomes_a_page_for_each_reader(prepwright: Prepwright, tmp_path, reader, says):
    page = tmp_path / "page.html"
    result = prepwright("report", BOOKMOBILE, "--html", page, "--for", reader)
    assert (result.returncode, result.stdout) == (0, b"")
    said = result.stderr.decode()
    assert said == (
        f"prepwright: the page for the {reader} is in `{page}`; open it in a browser to print it\n"
    )
    shown = text_of(page)
    assert says in shown
    assert "Job BM-7" in shown
    assert "left side with the painted story" in shown
    assert "13.3 mil" in shown
    assert [file.name for file in tmp_path.iterdir()] == ["page.html"]


def test_a_page_goes_to_standard_output_alone(prepwright: Prepwright, sample):
    result = prepwright("report", sample, "--html", "-")
    assert (result.returncode, result.stderr) == (0, b"")
    assert result.stdout.decode("utf-8").rstrip().endswith("</html>")


def test_the_page_of_a_stored_job_carries_a_seal_that_verifies(
    prepwright: Prepwright, sample, tmp_path
):
    store = str(tmp_path / "store.db")

    def run(*words: object) -> tuple[int, str]:
        done = prepwright(*words, PREPWRIGHT_STORE=store)
        return done.returncode, (done.stdout + done.stderr).decode()

    assert run("decide", sample, "--save")[0] == 0
    page = tmp_path / "page.html"
    assert run("report", "BM-7", "--html", page)[0] == 0
    found = re.search(r"Seal of the record: ([0-9]+-[A-Z0-9-]+)", text_of(page))
    assert found is not None
    code, said = run("trail", "verify", "--seal", found[1])
    assert code == 0, said
    trail = " ".join(run("trail", "show", "BM-7", "--width", 300)[1].split())
    assert "report for the shop" in trail
    # The decision on paper was in the record already and is not recorded twice.
    assert trail.count("decision by Robin") == 1
    wrong = found[1][:-1] + ("A" if found[1][-1] != "A" else "B")
    assert run("trail", "verify", "--seal", wrong)[0] != 0


def test_a_changed_job_is_decided_and_recorded_before_it_is_sealed(
    prepwright: Prepwright, sample, tmp_path
):
    store = str(tmp_path / "store.db")
    assert prepwright("decide", sample, "--save", PREPWRIGHT_STORE=store).returncode == 0
    own = tmp_path / "rules"
    shutil.copytree(supplied_ruleset_folder(), own)
    limits = own / "limits.yaml"
    text = limits.read_text("utf-8")
    limits.write_text(text.replace("value: 12 mil", "value: 11.5 mil", 1), "utf-8")
    page = tmp_path / "page.html"
    done = prepwright("report", "BM-7", "--html", page, "--ruleset", own, PREPWRIGHT_STORE=store)
    assert done.returncode == 0
    assert "11.5 mil" in text_of(page)
    trail = prepwright("trail", "show", "BM-7", "--width", 300, PREPWRIGHT_STORE=store)
    assert trail.stdout.decode().count("bonnet sand") == 2
    assert prepwright("trail", "replay", "BM-7", PREPWRIGHT_STORE=store).returncode == 0


def test_nothing_is_recorded_where_the_page_cannot_be_written(
    prepwright: Prepwright, sample, tmp_path
):
    store = str(tmp_path / "store.db")
    assert prepwright("decide", sample, "--save", PREPWRIGHT_STORE=store).returncode == 0
    before = prepwright("trail", "show", PREPWRIGHT_STORE=store).stdout
    done = prepwright("report", "BM-7", "--html", tmp_path / "no" / "x", PREPWRIGHT_STORE=store)
    assert done.returncode == 2
    assert b"there is no folder" in done.stderr
    assert prepwright("trail", "show", PREPWRIGHT_STORE=store).stdout == before


def test_a_report_is_written_over_and_nothing_else_is(prepwright: Prepwright, sample, tmp_path):
    page = tmp_path / "page.html"
    assert prepwright("report", sample, "--html", page).returncode == 0
    assert prepwright("report", sample, "--html", page, "--for", "crew").returncode == 0
    assert "Work sheet for the crew" in text_of(page)
    refused = prepwright("report", sample, "--html", sample)
    assert refused.returncode == 2
    assert b"is already there and is no report" in refused.stderr
    assert sample.read_text("utf-8") == SAMPLE
    assert prepwright("report", sample, "--html", tmp_path).returncode == 2


def test_a_link_goes_on_leading_to_the_page(prepwright: Prepwright, sample, tmp_path):
    page, link = tmp_path / "page.html", tmp_path / "link.html"
    link.symlink_to(page)
    assert prepwright("report", sample, "--html", link).returncode == 0
    assert link.is_symlink()
    assert "Job BM-7" in text_of(page)


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("", "has no name"),
        ("x" * 300, "cannot be written to"),
        ("page.html/under", "cannot be written to"),
        ("no/page.html", "there is no folder"),
        (".", "is already there and is no report"),
    ],
)
def test_a_place_where_no_page_can_be_written_is_refused_in_one_line(
    prepwright: Prepwright, sample, tmp_path, name, says
):
    assert prepwright("report", sample, "--html", tmp_path / "page.html").returncode == 0
    where = str(tmp_path / name) if name else ""
    done = prepwright("report", sample, "--html", where)
    assert (done.returncode, done.stdout) == (2, b"")
    *_, last = done.stderr.decode().splitlines()
    assert says in last
    assert ".part" not in last
    assert [file.name for file in tmp_path.iterdir() if file.suffix == ".part"] == []


def test_start_people_and_paper_are_as_asked(prepwright: Prepwright, sample, tmp_path):
    page = tmp_path / "page.html"
    asked = ("--start", "2026-11-30", "--people", 3, "--booths", 1, "--paper", "a4")
    assert prepwright("report", sample, "--html", page, *asked).returncode == 0
    assert "Monday 30 November 2026" in text_of(page)
    assert "@page { size: A4;" in page.read_text("utf-8")
    assert prepwright("report", sample, "--html", page).returncode == 0
    assert "@page { size: Letter;" in page.read_text("utf-8")


def test_a_shop_tells_its_customers_in_its_own_words(prepwright: Prepwright, sample, tmp_path):
    own = tmp_path / "words.yaml"
    supplied = (report_folder() / "customer.yaml").read_text("utf-8")
    own.write_text(supplied.replace("Sanded and painted", "Rubbed down and painted"), "utf-8")
    page = tmp_path / "page.html"
    asked = ("--for", "customer", "--words", own)
    assert prepwright("report", sample, "--html", page, *asked).returncode == 0
    assert "Rubbed down and painted" in text_of(page)
    own.write_text(supplied.replace("may-change:", "may-chance:"), "utf-8")
    refused = prepwright("report", sample, "--html", page, *asked)
    assert refused.returncode == 3
    assert f"{own}:" in refused.stderr.decode()
    assert "may-chance" in refused.stderr.decode()


def test_a_job_nobody_knows_is_refused(prepwright: Prepwright, sample, tmp_path):
    store = str(tmp_path / "store.db")
    assert prepwright("decide", sample, "--save", PREPWRIGHT_STORE=store).returncode == 0
    done = prepwright("report", "BM-8", "--html", tmp_path / "x.html", PREPWRIGHT_STORE=store)
    assert done.returncode in (1, 2)
    assert "BM-8" in done.stderr.decode()
    assert not (tmp_path / "x.html").exists()


def test_an_open_job_says_so_on_every_page(prepwright: Prepwright, undecided, tmp_path):
    for reader in ("shop", "customer", "crew"):
        page = tmp_path / f"{reader}.html"
        done = prepwright("report", undecided, "--html", page, "--for", reader)
        assert done.returncode == 0
        assert "1 of 1 panel still open." in text_of(page)


def test_names_of_panels_stay_text(prepwright: Prepwright, tmp_path):
    job = tmp_path / "job.yaml"
    name = "<script>alert(1)</script>"
    job.write_text(SAMPLE.replace("  bonnet:", f'  "{name}":'), "utf-8")
    page = tmp_path / "page.html"
    assert prepwright("report", job, "--html", page).returncode == 0
    written = page.read_text("utf-8")
    assert "<script" not in written
    assert html.escape(name) in written


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (("--vehicle", "vam"), 2, "Did you mean `van`?"),
        (("--vehicle", "missing.yaml"), 3, "there is no such file"),
        (("--words", "missing.yaml"), 3, "there is no such file"),
        (("--start", "tomorrow"), 2, "is no day to start on"),
        (("--for", "nobody"), 2, "nobody"),
        (("--paper", "A5"), 2, "A5"),
    ],
)
def test_wrong_options_end_in_one_clear_message(
    prepwright: Prepwright, sample, tmp_path, words, code, says
):
    done = prepwright("report", sample, "--html", tmp_path / "page.html", *words)
    assert (done.returncode, done.stdout) == (code, b"")
    assert says in done.stderr.decode()
    assert b"Traceback" not in done.stderr
    assert not (tmp_path / "page.html").exists()


def test_a_report_without_a_file_is_refused(prepwright: Prepwright, sample):
    done = prepwright("report", sample)
    assert done.returncode == 2
    assert b"--html" in done.stderr
