"""The installed command, and the environment it is run in."""

from __future__ import annotations

import os
import sys
from pathlib import Path

COMMAND = Path(sys.executable).parent / ("prepwright.exe" if os.name == "nt" else "prepwright")

SAMPLE = """\
prepwright: job/1
job: BM-7
shop: {air-temperature: 21 degC, relative-humidity: 55 %, surface-temperature: 20 degC, \
spray-booth: yes, region: us}
car: {year: 1996, drive: combustion, washed: yes, wash-soap: silicone-free, degreased: yes, \
dressings: no, topcoat: base-and-clear, lead-test: negative}
panels:
  bonnet:
    part: original
    substrate: steel
    defects: [none]
    rust: none
    film: {gauge: magnetic, readings: [4.9 mil, 5.1 mil, [5.0 mil, 5.2 mil, 5.1 mil]]}
    filler: {found: none}
"""


def clean_environment(**more: str) -> dict[str, str]:
    """The environment without what would change the output, and never the user's own store."""
    changing = (
        "NO_COLOR",
        "PREPWRIGHT_STORE",
        "PREPWRIGHT_BY",
        "COLUMNS",
        "PREPWRIGHT_TRACE",
        "PREPWRIGHT_LANGUAGE",
        "FORCE_COLOR",
        "PYTHONIOENCODING",
    )
    kept = {name: value for name, value in os.environ.items() if name not in changing}
    # Neither the store nor the settings of whoever runs the tests are touched.
    away = {"PREPWRIGHT_STORE": os.devnull, "XDG_CONFIG_HOME": os.devnull}
    return {**kept, **away, "PREPWRIGHT_BY": "Robin", **more}
