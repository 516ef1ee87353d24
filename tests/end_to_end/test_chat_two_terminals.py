"""Two terminals at one job: what the other did is shown, and no typed answer is lost."""

from __future__ import annotations

import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from installed import COMMAND, clean_environment

from engine.trail import Store, job_facts, verify
from engine.trail.work import last_decision


class Talk:
    """A chat over a pipe, one line at a time."""

    def __init__(self, store: Path) -> None:
        self.store = store
        self.said: list[str] = []
        self.process = subprocess.Popen(
            [str(COMMAND), "chat", "BM-7", "--one-engine", "--by", "Ada", "--width", "200"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            env=clean_environment(PREPWRIGHT_STORE=str(store), PYTHONUNBUFFERED="1"),
            text=True,
        )

    def type(self, line: str) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write(line + "\n")
        self.process.stdin.flush()

    def until(self, words: str) -> str:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.said.append(line.strip())
            if words in line:
                return line.strip()
        raise AssertionError(f"never said {words!r}: {self.said}")

    def end(self) -> tuple[int, str]:
        out, err = self.process.communicate(timeout=60)
        self.said += [line.strip() for line in out.splitlines()]
        return self.process.returncode, err


@pytest.fixture
def talk(tmp_path: Path) -> Iterator[Talk]:
    opened = Talk(tmp_path / "store.db")
    yield opened
    opened.process.kill()
    opened.process.communicate()


def elsewhere(store: Path, *words: str) -> None:
    done = subprocess.run(
        [str(COMMAND), *words, "--by", "Sam"],
        capture_output=True,
        env=clean_environment(PREPWRIGHT_STORE=str(store)),
        timeout=60,
        check=False,
    )
    assert done.returncode == 0, done.stderr.decode()


def test_an_answer_to_a_question_that_still_stands_is_taken_after_the_others_change(
    talk: Talk,
) -> None:
    talk.type("roof, tailgate")
    talk.until("combustion, hybrid, electric")
    elsewhere(talk.store, "found", "BM-7", "roof rust: pitted")
    talk.type("hybrid")
    talk.until("Somebody else changed this job in the meantime:")
    talk.until("Sam: found: roof rust: pitted")
    talk.until("Your answer was not taken yet: hybrid")
    talk.until("Drive: hybrid")
    talk.type("stop")
    code, err = talk.end()
    assert (code, err) == (0, "")
    with Store.open(talk.store, read_only=True) as store:
        assert verify(store).sound
        facts = job_facts(store, "BM-7")
        assert facts.car["car.drive"].value == "hybrid"
        assert facts.panels["roof"]["rust"].value == "pitted"


def test_an_answer_the_other_gave_meanwhile_is_not_overwritten_from_a_pipe(talk: Talk) -> None:
    talk.type("roof")
    talk.until("combustion, hybrid, electric")
    elsewhere(talk.store, "found", "BM-7", "drive: electric")
    talk.type("hybrid")
    code, err = talk.end()
    assert code == 1
    assert "was changed in the meantime" in err
    assert "Traceback" not in err
    with Store.open(talk.store, read_only=True) as store:
        assert job_facts(store, "BM-7").car["car.drive"].value == "electric"


def test_what_changes_while_the_decision_is_taken_is_decided_too(talk: Talk) -> None:
    talk.type("roof")
    talk.until("combustion, hybrid, electric")
    elsewhere(talk.store, "found", "BM-7", "roof rust: perforated", "roof part: original")
    talk.type("stop")
    talk.until("Sam: found: roof")
    code, err = talk.end()
    assert (code, err) == (0, "")
    with Store.open(talk.store, read_only=True) as store:
        kept = last_decision(store, "BM-7")
        assert kept is not None
        assert kept.actor == "Ada"
        told = [fact["fact"] for fact in kept.payload["inputs"]["facts"]]
        assert "rust" in told
