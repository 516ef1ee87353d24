"""Any job that can be told is written and read back unchanged; no input ends in a traceback."""

from __future__ import annotations

import unicodedata
from fractions import Fraction
from typing import Any

import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.answers import choice_words, read_answer, read_value, show_value
from engine.document import Document, WrittenNumber, parse_document
from engine.errors import InputError
from engine.facts import JobFacts, Told
from engine.jobfile import job_notes, job_text, parse_job, without_places
from engine.ruleset.model import About, FactKind, FactSpec
from tests.unit.sample import RULESET

UNSAFE = ("Cc", "Cf", "Cs", "Zl", "Zp")
TOLD = [spec for spec in RULESET.facts.values() if spec.told]

safe = st.characters(exclude_categories=UNSAFE)
names = st.text(safe, min_size=1, max_size=80).filter(str.strip)
remarks = st.text(safe, min_size=1, max_size=200).filter(str.strip)
texts = st.text(st.one_of(safe, st.sampled_from("\n\t:#-'\"{}[]&*!|>%@`,?")), max_size=60)
lengths = st.decimals(min_value=0, max_value=90, places=2).map(str)
length_units = st.sampled_from([" mil", "mil", " um", " thou", " microns"])
readings = st.builds(str.__add__, lengths, length_units)


@st.composite
def quantities(draw: st.DrawFn, spec: FactSpec) -> str | int:
    number = draw(st.decimals(min_value=0, max_value=50, places=2))
    unit = {
        "temperature": draw(st.sampled_from([" degC", " F", " K"])),
        "percent": draw(st.sampled_from([" %", "%", " percent"])),
        "area": draw(st.sampled_from([" m2", " sq ft", " ft²"])),
    }.get(spec.quantity or "")
    if unit is None:
        return draw(st.integers(1886, 2100) if spec.id == "car.year" else st.integers(0, 1000))
    return f"{number + 250 if unit == ' K' else number}{unit}"


@st.composite
def spots(draw: st.DrawFn) -> object:
    if draw(st.booleans()):
        row = st.lists(lengths, min_size=1, max_size=6)
        separator = draw(st.sampled_from([", ", "; ", " ", " and "]))
        return separator.join(draw(row)) + draw(length_units)
    spot = st.one_of(readings, st.lists(readings, min_size=1, max_size=3))
    return draw(st.lists(spot, min_size=1, max_size=5))


@st.composite
def raws(draw: st.DrawFn, spec: FactSpec) -> object:
    """A value as a job file may hold it; now and then one that is refused."""
    if draw(st.integers(0, 9)) == 0:
        return "unknown"
    if spec.kind is FactKind.TEXT:
        return draw(texts)
    if spec.kind is FactKind.QUANTITY:
        return draw(quantities(spec))
    if spec.kind is FactKind.LIST:
        return draw(spots())
    words = st.sampled_from(sorted(choice_words(spec)))
    if spec.kind is FactKind.SET:
        return draw(st.one_of(words, st.lists(words, min_size=1, max_size=4)))
    return draw(words)


def taken(spec: FactSpec, raw: object, *, typed: bool) -> Told | None:
    try:
        if typed and isinstance(raw, str):
            return read_answer(spec, raw)
        return read_value(spec, raw)
    except InputError:
        return None


@st.composite
def sheets(draw: st.DrawFn, about: About) -> dict[str, Told]:
    sheet: dict[str, Told] = {}
    for spec in TOLD:
        if spec.about is not about or draw(st.booleans()):
            continue
        value = draw(raws(spec))
        if draw(st.integers(0, 3)) == 0:
            said = draw(st.dictionaries(st.sampled_from(["by", "at", "with"]), remarks))
            value = {"value": value, **said}
        told = taken(spec, value, typed=draw(st.booleans()))
        if told is not None:
            sheet[spec.id] = told
    return sheet


def collapsed(name: str) -> str:
    return "".join(unicodedata.normalize("NFKC", name).casefold().split())


@st.composite
def jobs(draw: st.DrawFn) -> JobFacts:
    panels = draw(st.lists(names, min_size=1, max_size=3, unique_by=collapsed))
    return JobFacts(
        draw(names),
        draw(sheets(About.SHOP)),
        draw(sheets(About.CAR)),
        {panel: draw(sheets(About.PANEL)) for panel in panels},
    )


@settings(max_examples=150, deadline=None)
@given(jobs(), st.lists(remarks, max_size=2))
def test_a_job_reads_back_as_it_was_written(facts: JobFacts, notes: list[str]) -> None:
    text = job_text(facts, RULESET, notes)
    document = parse_document(text.encode(), "job.yaml")
    back = parse_job(document, RULESET)
    assert without_places(back) == without_places(facts)
    assert list(back.panels) == list(facts.panels)
    assert job_notes(document) == tuple(notes)
    # Written again it is the same text, byte for byte.
    assert job_text(back, RULESET, notes) == text
    # A reader of YAML 1.1 sees the same tree.
    assert as_text(yaml.safe_load(text)) == as_text(document.data)


def as_text(data: Any) -> Any:
    if isinstance(data, dict):
        return {key: as_text(value) for key, value in data.items()}
    if isinstance(data, list):
        return [as_text(item) for item in data]
    assert isinstance(data, str | int)
    assert not isinstance(data, bool)
    return data


scalars = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.decimals(allow_nan=False, allow_infinity=False, places=2).map(str).map(WrittenNumber),
    st.text(max_size=30),
    st.sampled_from(
        ["job/1", "unknown", "steel", "5 mil", "4.9, 5.0/5.1 mil", "1/4 in", "chips, none", "yes"]
    ),
)
keys = st.one_of(
    st.text(max_size=10),
    st.sampled_from(
        [name for spec in RULESET.facts.values() for name in (spec.id, spec.id.split(".")[-1])]
        + [
            "prepwright",
            "job",
            "shop",
            "car",
            "panels",
            "notes",
            "value",
            "by",
            "film",
            "treatment",
        ]
    ),
)
trees = st.recursive(
    scalars,
    lambda inner: st.one_of(st.lists(inner, max_size=4), st.dictionaries(keys, inner, max_size=5)),
    max_leaves=25,
)


@settings(max_examples=400, deadline=None)
@given(st.sampled_from(TOLD), trees)
def test_any_value_is_taken_or_refused_with_a_clear_message(spec: FactSpec, raw: object) -> None:
    try:
        told = read_value(spec, raw)
    except InputError as error:
        assert_clear(error)
    else:
        assert told.value is None or told.written


@settings(max_examples=400, deadline=None)
@given(
    st.sampled_from(TOLD),
    st.one_of(
        st.text(),
        st.text("0123456789.,/-+ eE;\n\"'milunuand½"),
        st.from_regex(r"[0-9 /.,]+ (mil|in)"),
    ),
)
def test_any_typed_text_is_taken_or_refused(spec: FactSpec, text: str) -> None:
    try:
        told = read_answer(spec, text)
    except InputError as error:
        assert_clear(error)
    else:
        assert told.written == text.strip()


@settings(max_examples=300, deadline=None)
@given(st.dictionaries(keys, trees, max_size=6))
def test_any_tree_under_a_job_is_read_or_refused(tree: dict[str, Any]) -> None:
    data = {"prepwright": "job/1", "job": "BM-7", "panels": {"bonnet": tree}, **tree}
    read(Document("job.yaml", data, {}, {}))


@settings(max_examples=300, deadline=None)
@given(
    st.one_of(
        st.binary(max_size=300),
        st.text(max_size=300).map(lambda text: text.encode("utf-8", "surrogatepass")),
    )
)
def test_any_bytes_are_read_or_refused(raw: bytes) -> None:
    for content in (raw, b"prepwright: job/1\njob: BM-7\npanels:\n  bonnet:\n    " + raw):
        try:
            document = parse_document(content, "job.yaml")
        except InputError as error:
            assert_clear(error)
        else:
            read(document)


def read(document: Any) -> None:
    try:
        parse_job(document, RULESET)
    except InputError as error:
        assert_clear(error)


def assert_clear(error: InputError) -> None:
    assert error.problems
    for problem in error.problems:
        assert problem.message
        assert all(char.isprintable() for char in problem.message)


@settings(max_examples=200, deadline=None)
@given(
    st.lists(
        st.lists(
            st.decimals(min_value=0, max_value=98, places=1).map(Fraction), min_size=1, max_size=3
        ),
        min_size=1,
        max_size=6,
    ),
    st.sampled_from(["mil", "um"]),
)
def test_shown_readings_read_back(tenths: list[list[Fraction]], unit: str) -> None:
    factor = Fraction("25.4") if unit == "mil" else Fraction(1)
    spec = RULESET.facts["film.readings"]
    value = tuple(tuple(reading * factor for reading in spot) for spot in tenths)
    assert read_answer(spec, show_value(spec, value, unit)).value == value
