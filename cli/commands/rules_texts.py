"""`prepwright rules texts`: the texts of a rule set in other languages."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from cli.commands.rules_check import one_folder
from cli.errors import NO, Outcome
from cli.options import ruleset_option

if TYPE_CHECKING:
    from engine.ruleset.check_language import Texts
    from engine.ruleset.texts import Text


@click.command()
@click.argument("folder", required=False, type=click.Path(path_type=Path))
@click.option("--language", "id", metavar="ID", help="Compare with this language, such as es.")
@click.option(
    "--start", is_flag=True, help="Write a file of empty texts for each that is not there yet."
)
@click.option(
    "--accept", is_flag=True, help="Note that every text there fits the English as it now stands."
)
@click.option("--file", "only", metavar="FILE", help="Only the texts of this file of the rules.")
@ruleset_option
@click.option("--json", "as_json", is_flag=True, help="Write JSON (prepwright/texts/1).")
def texts(
    folder: Path | None,
    id: str | None,
    start: bool,
    accept: bool,
    only: str | None,
    ruleset_folder: Path | None,
    as_json: bool,
) -> None:
    """List the texts of a rule set, and what a language lacks or has wrong.

    Without --language every text that can be translated is listed with its place. With it: what is
    missing, what has no English, placeholders that differ, texts whose English was changed since.
    Ends with 1 where there is any of that.
    """
    from engine.errors import UsageError
    from engine.ruleset.check_language import compared, english_texts
    from engine.ruleset.language import languages_in
    from engine.ruleset.report import Report
    from engine.supplied import supplied_ruleset_folder

    here = one_folder(folder, ruleset_folder) or supplied_ruleset_folder()
    if id is None and (start or accept):
        raise click.UsageError("say for which language, with --language")
    report = Report()
    english = english_texts(here, report)
    report.refuse()
    if only is not None and only not in {text.file for text in english}:
        raise UsageError(f"no text stands in `{only}`; files are named as in rules/20-film.yaml")
    if id is None:
        _list([text for text in english if only in (None, text.file)], as_json)
        return
    if start:
        _start(here, id, english)
        return
    if id not in languages_in(here):
        raise UsageError(
            f"there is no language `{id}` in {here}. Start it with: "
            f"prepwright rules texts --language {id} --start"
        )
    found = compared(here, id, report)
    report.refuse()
    assert found is not None
    if accept:
        from engine.ruleset.language_folder import note_fingerprints

        count = note_fingerprints(here, found)
        click.echo(f"{count} texts in {id} are noted to fit the English as it now stands.")
        return
    _compare(found, only, as_json)


def _list(english: list[Text], as_json: bool) -> None:
    from cli.output.jsontext import write_json
    from cli.output.safe import neutral

    if as_json:
        write_json({"format": "prepwright/texts/1", "texts": [_as_json(each) for each in english]})
        return
    for each in english:
        mark = "" if each.due else " (may be left out)"
        click.echo(neutral(f"{each.place}: {'.'.join(each.path)}{mark}"))
        for line in each.english:
            click.echo(f"    {neutral(line)}")


def _as_json(text: Text) -> dict[str, object]:
    return {
        "file": text.file,
        "line": text.place.line,
        "column": text.place.column,
        "path": list(text.path),
        "form": str(text.field.form),
        "due": text.due,
        "english": list(text.english),
    }


def _start(folder: Path, id: str, english: tuple[Text, ...]) -> None:
    from cli.output.safe import neutral
    from engine.ruleset.language_folder import start_language

    written = start_language(folder, id, english)
    for file in written:
        click.echo(neutral(file.relative_to(folder).as_posix()))
    click.echo(f"{len(written)} files written; those that were there stay as they are.")


def _compare(found: Texts, only: str | None, as_json: bool) -> None:
    from cli.output.jsontext import write_json
    from cli.output.safe import neutral, neutral_lines
    from engine.ruleset.check_language import missing, wrong

    id = found.language.id
    named = (None, only, f"languages/{id}/{only}")
    findings = [
        each
        for each in (*wrong(found), *missing(found))
        if only is None or each.place.file in named
    ]  # fmt: skip
    due = [text for text in found.due if only in (None, text.file)]
    lacking = [text for text in found.missing if only in (None, text.file)]
    if as_json:
        write_json(
            {
                "format": "prepwright/texts/1",
                "language": id,
                "checked": found.language.checked,
                "due": len(due),
                "missing": len(lacking),
                "findings": [each.as_json() for each in findings],
            }
        )
    else:
        for each in findings:
            click.echo(neutral_lines(str(each)))
        verdict = f"{len(findings)} findings" if findings else "nothing is missing or wrong"
        there = f"{len(due) - len(lacking)} of {len(due)} texts are there"
        click.echo(neutral(f"{id} ({found.language.name}): {there}; {verdict}."))
    if findings:
        raise Outcome(NO)
