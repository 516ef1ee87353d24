"""Every command has a manual that is whole, and the examples in it run as they stand."""

from __future__ import annotations

import re
import shlex
import shutil
from pathlib import Path

import click
import pytest
from manual_examples import every_context, examples, manuals, prepare, run_there

from cli.main import prepwright, run
from cli.manual.read import Example, diagnostics, manual_of, path_of, topics
from cli.manual.text import WIDTH, command_lines, help_text, manual_page, topic_page
from engine.supplied import help_folder


def test_there_are_manuals_for_all_and_of_nothing_else() -> None:
    assert len(manuals()) > 50
    written = {
        name
        for file in help_folder().glob("*.toml")
        if file.stem not in ("topics", "diagnostics")
        for name in re.findall(r'^\["?([^"\]]+)"?\]$', file.read_text("utf-8"), re.MULTILINE)
    }
    assert written == {path or "prepwright" for path in manuals()}


@pytest.mark.parametrize("path", manuals(), ids=str)
def test_a_manual_is_whole(path: str) -> None:
    manual = manuals()[path]
    assert manual.description
    assert manual.examples
    assert manual.see
    assert {"0", "2", "130"} <= dict(manual.exits).keys()
    called = path or "prepwright"
    assert any(each.run.startswith(f"prepwright {path}".rstrip()) for each in manual.examples)
    for name in manual.see:
        assert name in manuals() or name in topics(), f"{called} points to {name}"


@pytest.mark.parametrize("context", list(every_context()), ids=path_of)
def test_every_argument_is_explained(context: click.Context) -> None:
    explained = [name for name, _ in manual_of(context).arguments]
    there = [
        parameter.metavar or parameter.human_readable_name
        for parameter in context.command.get_params(context)
        if isinstance(parameter, click.Argument)
    ]
    assert [name.strip("[]. ") for name in there] == explained


@pytest.mark.parametrize("context", list(every_context()), ids=path_of)
def test_help_says_all_of_it_in_80_columns(context: click.Context) -> None:
    manual = manual_of(context)
    for text in (help_text(context), manual_page(context)):
        assert max(map(len, text.splitlines())) <= WIDTH
        assert "\u00a0" not in text
        joined = " ".join(re.sub(r"\\\n", " ", text).split())
        for said in (
            *(each for pair in (*manual.arguments, *manual.exits) for each in pair),
            *(f"{each.does}: {each.run}" for each in manual.examples),
            *(f"prepwright help {name}" for name in manual.see),
        ):
            assert " ".join(said.split()) in joined


def test_topics_point_to_what_is_there() -> None:
    for topic in topics().values():
        assert max(map(len, topic_page(topic).splitlines())) <= WIDTH
        for name in topic.see:
            assert name in manuals() or name in topics()


@pytest.mark.parametrize("width", [30, 50, 78])
def test_a_broken_command_line_is_still_the_same_command(width: int) -> None:
    for example in examples(slow=False):
        lines = command_lines(example.run, width)
        joined = "\n".join(lines).replace("\\\n", "")
        assert shlex.split(joined) == shlex.split(example.run)


@pytest.fixture(scope="module")
def prepared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return prepare(tmp_path_factory.mktemp("prepared"))


@pytest.mark.parametrize("example", examples(slow=False), ids=lambda each: each.run)
def test_an_example_runs_as_it_stands(
    example: Example,
    prepared: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    code = run_there(example.run, Path(shutil.copytree(prepared, tmp_path / "here")), monkeypatch)
    assert code == example.exit, capsys.readouterr().err


@pytest.mark.parametrize("example", examples(slow=True), ids=lambda each: each.run)
def test_a_slow_example_is_at_least_understood(example: Example) -> None:
    program, *args = shlex.split(example.run)
    context = prepwright.make_context(program, args)
    while isinstance(context.command, click.Group):
        name, command, rest = context.command.resolve_command(context, [*context._protected_args])
        assert command is not None
        context = command.make_context(name, [*rest, *context.args], parent=context)
    assert context.command.callback is not None


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "first-job"),
        (("decide",), "USAGE\n  prepwright decide [OPTIONS] JOB\n"),
        (("rules", "check"), "NAME\n  prepwright rules check - "),
        (("prepwright", "trail"), "  verify\n      Verify every link"),
        (("exit-codes",), "      130  interrupted\n"),
        (("[beats-cycle]",), "[BEATS-CYCLE]\n"),
    ],
)
def test_help_finds_what_is_asked_for(
    words: tuple[str, ...], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["help", *words]) == 0
    assert said in capsys.readouterr().out


def test_help_on_nothing_there_is_says_what_is_near(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["help", "rules", "chek"]) == 2
    assert "`rules check`" in capsys.readouterr().err
    assert run(["help", "beats-cicle"]) == 2
    assert "`beats-cycle`" in capsys.readouterr().err


def test_every_message_explained_has_words_for_both_halves() -> None:
    for each in diagnostics().values():
        assert each.means.endswith(".")
        assert each.do.endswith(".")
