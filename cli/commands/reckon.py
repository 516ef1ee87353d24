"""`prepwright reckon`: the trade's single calculations, outside any job."""

from __future__ import annotations

from importlib import import_module

import click

_RECKONINGS: dict[str, tuple[str, str]] = {
    "dew-point": ("air", "Dew point, margin at the surface, and what to wait for."),
    "humidity": ("air", "Humidity from wet and dry bulb, or from a dew point."),
    "survey": ("film", "What readings come to, how sure, and which spots are odd."),
    "spots": ("film", "How many spots a surface needs, by SSPC-PA 2 and by ISO 19840."),
    "acceptance": ("film", "A film against a specification, by SSPC-PA 2 or ISO 19840."),
    "gauge": ("film", "A gauge against a shim, or against bare metal."),
    "build": ("build", "The film with new coats on, what must come off, how near the e-coat is."),
    "filler": ("build", "Litres, layers, hardener and waiting for a hollow."),
    "coverage": ("coverage", "Spreading rate, wet film, and litres to have in the cup."),
    "mix": ("mixing", "A mix by parts, by scale, with solids, cans and pot life."),
    "voc": ("voc", "VOC as applied, and beside the limits of a region."),
    "voc-average": ("voc", "The VOC of a topcoat of several stages."),
    "voc-mix": ("voc", "The VOC of a mix from those of its parts."),
    "grits": ("abrasives", "Grades from coarse to fine, none skipped."),
    "cure": ("curing", "A drying time at another temperature."),
    "bake": ("curing", "Oven time, counted from when the metal is hot."),
    "recoat": ("curing", "Where a coat stands in its recoat window."),
    "rust": ("condition", "Rust grades from the share of the surface rusted."),
    "adhesion": ("condition", "Cross-cut classes from the share of the lattice lost."),
    "cut-test": ("condition", "Which cut test suits a film, and how far apart the cuts are."),
    "blisters": ("condition", "A blister rating of ASTM D714 as ISO 4628-2 writes it."),
    "flaking": ("condition", "The degree of flaking of ISO 4628-5."),
    "twa": ("exposure", "A time-weighted average. Information, never clearance."),
    "mixture": ("exposure", "Several substances together. Information, never clearance."),
    "long-shift": ("exposure", "What a long shift leaves of a limit. Information only."),
    "vapour": ("exposure", "ppm and mg/m3 of a vapour, one from the other."),
    "dilution": ("exposure", "Air against fire where solvent evaporates. Information only."),
}


class _Reckonings(click.Group):
    """Knows its reckonings by name and help line; a module is imported when one runs."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(_RECKONINGS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in _RECKONINGS:
            return None
        module = import_module(f"cli.reckon.{_RECKONINGS[cmd_name][0]}")
        found = getattr(module, cmd_name.replace("-", "_"))
        assert isinstance(found, click.Command)
        return found

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args and args[0] not in _RECKONINGS and not args[0].startswith("-"):
            from engine.errors import did_you_mean

            fix = did_you_mean(args[0], _RECKONINGS) or f"There are: {', '.join(_RECKONINGS)}."
            raise click.UsageError(f"there is no reckoning `{args[0]}`. {fix}", ctx)
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Reckonings"):
            formatter.write_dl([(name, line) for name, (_, line) in _RECKONINGS.items()])


@click.group(cls=_Reckonings, invoke_without_command=True)
@click.pass_context
def reckon(ctx: click.Context) -> None:
    """One calculation of the trade, with its formula and where that comes from.

    Units are taken as people write them: `--air 70F`, `--dry-film '2 mil'`. Numbers that nobody
    gives and a shop keeps in its rules are read there and named; nothing else is taken for granted.
    """
    if ctx.invoked_subcommand is None:
        click.echo(ctx.get_help())
