"""`prepwright why` and `prepwright suppose` through the installed command."""

from __future__ import annotations

from pathlib import Path

import pytest
from conftest import Prepwright


def test_why_leads_from_the_treatment_to_the_reading(prepwright: Prepwright, sample: Path) -> None:
    done = prepwright("why", sample, "bonnet", "--plain")
    said = done.stdout.decode()
    assert done.returncode == 0
    assert said.startswith("BM-7, bonnet: sand: Sand and repaint")
    assert "[limit film.overcoat-limit; common practice]" in " ".join(said.split())
    assert "told as `4.9 mil, 5.1 mil, 5.0 mil/5.2 mil/5.1 mil`" in " ".join(said.split())


def test_why_not_of_what_was_decided_says_so(prepwright: Prepwright, sample: Path) -> None:
    said = prepwright("why", sample, "bonnet", "--not", "sand").stdout.decode()
    assert "It is the treatment that was decided." in said
    assert "Nearest rule" not in said


def test_why_not_names_the_nearest_rule(prepwright: Prepwright, sample: Path) -> None:
    done = prepwright("why", sample, "bonnet", "--not", "partial-strip", "--width", "200")
    assert "would need typical film above 12 mil (it is 5.1 mil, 6.9 mil away)" in (
        done.stdout.decode()
    )


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("why", "{}", "bonet"), "has no panel `bonet`. Did you mean `bonnet`?"),
        (("why", "{}", "bonnet", "--not", "stripp"), "Did you mean `strip`"),
        (("suppose", "{}"), "say what to suppose"),
        (("suppose", "{}", "bonnet rust"), "lacks a value"),
        (("suppose", "{}", "rust: none"), "say for which panel, such as 'bonnet rust: none'"),
    ],
)
def test_wrong_calls_say_what_would_be_right(
    prepwright: Prepwright, sample: Path, words: tuple[str, ...], said: str
) -> None:
    done = prepwright(*(word.format(sample) for word in words))
    assert done.returncode == 2
    assert said in done.stderr.decode()
    assert not done.stdout


def test_a_wrong_value_is_a_bad_input(prepwright: Prepwright, sample: Path) -> None:
    done = prepwright("suppose", sample, "bonnet rust: rustless")
    assert done.returncode == 3
    assert "`rustless` is not a value of `Rust`" in done.stderr.decode()


def test_supposing_shows_what_would_differ_and_changes_nothing(
    prepwright: Prepwright, sample: Path
) -> None:
    before = sample.read_bytes()
    done = prepwright("suppose", sample, "bonnet rust: perforated", "--plain")
    assert "treatment: sand becomes renew" in done.stdout.decode()
    assert sample.read_bytes() == before


def test_flipping_names_a_change_for_each_other_treatment(
    prepwright: Prepwright, sample: Path
) -> None:
    said = prepwright("suppose", sample, "--flip", "bonnet", "--width", "200").stdout.decode()
    assert "renew: Rust: none -> perforated" in said
    assert "partial-strip: Film readings: 4.9, 5.1, 5/5.2/5.1 mil -> 12.12, 12.12, 12.12" in said


def test_a_reckoned_fact_is_followed_to_its_numbers_and_limits(
    prepwright: Prepwright, sample: Path
) -> None:
    words = ("why", sample, "bonnet", "--width", "200", "--fact")
    said = prepwright(*words, "build if sanded").stdout.decode()
    assert "* film, less sanding, plus coats: 5.1 - 0.5 + 1 + 1 + 2.5 mil" in said
    assert "* limit build.sanded-off: 0.5 mil [common practice]" in said
    assert "* median of the spot means 4.9, 5.1, 5.1 mil" in said
    quiet = prepwright(*words, "a coat lets go").stdout.decode()
    assert "= A coat lets go: no" in quiet
    assert "would need visible defects to include peeling" in quiet
    assert "= Visible defects: none (told as `none`" in quiet


def test_an_open_panel_says_which_rules_wait_for_what(
    prepwright: Prepwright, undecided: Path
) -> None:
    said = prepwright("why", undecided, "bonnet", "--width", "200").stdout.decode()
    assert "bonnet: open; still possible:" in said
    assert "? typical film above 12 mil: open [limit film.overcoat-limit; common practice]" in said
    assert "= Film readings: not known" in said
