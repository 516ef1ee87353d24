"""The job file: what is told of a shop, a car and its panels.

    prepwright: job/1
    job: BM-7
    shop: {air-temperature: 21 degC, region: us}
    car: {year: 1996}
    panels:
      bonnet:
        substrate: steel
        film: {gauge: magnetic, readings: [4.9 mil, [5.0 mil, 5.2 mil]]}

Inside `shop` and `car` the prefix of an id may be dropped. Dotted ids nest (`film: {gauge: ...}`)
or stand flat (`film.gauge: ...`). A value is `unknown`, a value, or `{value: ..., by: ...,
at: ..., with: ...}`; `written` keeps a person's own words where they differ from the value.
`notes` holds free remarks.
"""

from engine.jobreader import FORMAT, job_notes, parse_job, read_job
from engine.jobwriter import job_text, without_places, write_job

__all__ = [
    "FORMAT",
    "job_notes",
    "job_text",
    "parse_job",
    "read_job",
    "without_places",
    "write_job",
]
