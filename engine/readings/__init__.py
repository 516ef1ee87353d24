"""What gauges and spreadsheets write, understood, shown, and turned into told readings.

    understood = understand(path, job.panels, ruleset.vocabulary, ruleset.facts[READINGS])
    understood.problems, understood.to_confirm, understood.assumptions
    understood.told(ruleset.facts[READINGS])      # by panel, to be told to the job

Read are tables as text, with or without lines above them that tell of the gauge: one reading a
line, one panel a line, one panel a column, or one column of readings. The words by which columns,
checks, statistics and panels are known come from the rule set's `vocabulary.yaml`.
"""

from engine.readings.assembly import Given, understand
from engine.readings.panels import Certainty, Match
from engine.readings.source import MAX_BYTES
from engine.readings.table import SEPARATORS
from engine.readings.understood import (
    READINGS,
    GaugeCheck,
    PanelReadings,
    Reading,
    Refused,
    Understood,
)
from engine.readings.words import When

__all__ = [
    "MAX_BYTES",
    "READINGS",
    "SEPARATORS",
    "Certainty",
    "GaugeCheck",
    "Given",
    "Match",
    "PanelReadings",
    "Reading",
    "Refused",
    "Understood",
    "When",
    "understand",
]
