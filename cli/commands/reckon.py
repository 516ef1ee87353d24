"""`prepwright reckon`: the trade's single calculations, outside any job."""

from __future__ import annotations

import click

from cli.lazy import Lazy, LazyGroup

_RECKONINGS: dict[str, tuple[str, str]] = {
    "dew-point": ("air", "Dew point, margin at the surface, and what to wait for."),
    "humidity": ("air", "Humidity from wet and dry bulb, or from a dew point."),
    "survey": ("film", "What readings come to, how sure, and which spots are odd."),
    "spots": ("film", "How many spots a surface needs, by SSPC-PA 2 and by ISO 19840."),
    "acceptance": ("film", "A film against a specification, by SSPC-PA 2 or ISO 19840."),
    "gauge": ("film", "A gauge against a shim, or against bare metal."),
    "build": ("build", "The film with new coats on, what must come off, how near the e-coat is."),
    "filler": ("build", "Litres, layers, hardener and waiting for a hollow."),
    "hardener": ("build", "Hardener for filler, and whether what was added will do."),
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
    "booth-flow": ("exposure", "Air through an open booth face. Information only."),
}


@click.group(
    cls=LazyGroup,
    invoke_without_command=True,
    noun="reckoning",
    heading="Reckonings",
    lazy={
        name: Lazy(f"cli.reckon.{module}", name.replace("-", "_"), line)
        for name, (module, line) in _RECKONINGS.items()
    },
)
@click.pass_context
def reckon(ctx: click.Context) -> None:
    """One calculation of the trade, with its formula and where that comes from.

    Units are taken as people write them: `--air 70F`, `--dry-film '2 mil'`. Numbers that nobody
    gives and a shop keeps in its rules are read there and named; nothing else is taken for granted.
    """
    if ctx.invoked_subcommand is None:
        click.echo(ctx.get_help())
