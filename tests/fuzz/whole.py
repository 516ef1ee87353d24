"""Targets that take a whole part of the program through its work.

Cars told at random, so that nearly all of them are decided, planned and explained; folders of
rules, shops and languages with one file spoilt; the files of reports; exports whose chain is put
right again, so that what lies behind it is reached; command lines.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import shlex
import shutil
from collections.abc import Callable, Sequence
from functools import cache, partial
from pathlib import Path
from random import Random
from typing import Any

import cli.consult
from cli.main import run
from cli.report.customer import customer_words
from cli.report.vehicles import read_vehicle
from engine.errors import InputError, PrepwrightError
from engine.facts import JobFacts, Told
from engine.plan import make_plan, plan_json
from engine.reasoning.decide import decide
from engine.reasoning.domains import Domains
from engine.reasoning.evaluate import evaluate
from engine.reasoning.explain import Explainer
from engine.reasoning.program import compile_ruleset
from engine.ruleset import load_ruleset
from engine.ruleset.model import About, RuleSet
from engine.ruleset.speaking import in_language
from engine.supplied import report_folder
from engine.trail import Store
from engine.trail.canonical import canonical
from engine.trail.entry import GENESIS, Row, hash_of
from engine.trail.export import import_file
from engine.trail.seal import Seal
from tests.fuzz.target import UNIT, Target, folder, in_words, supplied

PANELS = ("bonnet", "roof", "rear bumper")

# --- cars ---------------------------------------------------------------------------------------


@cache
def _told() -> tuple[tuple[str, About, tuple[Told, ...]], ...]:
    """Every fact that can be told, with answers of which each rule tells some apart."""
    ruleset = supplied()
    domains = Domains(compile_ruleset(ruleset))
    return tuple(
        (spec.id, spec.about, answers)
        for spec in ruleset.facts.values()
        if spec.told and (answers := domains.of(spec.id))
    )


@cache
def _cars() -> tuple[bytes, ...]:
    random = Random("cars")
    return tuple(random.randbytes(4 * random.randrange(5, 120)) for _ in range(40))


def car(content: bytes) -> JobFacts:
    """Four bytes tell one fact: which, which answer, and of which panel. Any bytes are a car."""
    told = _told()
    job = JobFacts("BM-7", panels={panel: {} for panel in PANELS[: 1 + len(content) % 3]})
    for at in range(0, len(content) - 3, 4):
        high, low, answer, panel = content[at : at + 4]
        fact, about, answers = told[(high * 256 + low) % len(told)]
        where = PANELS[panel % len(job.panels)] if about is About.PANEL else None
        job = job.tell(str(about), where, fact, answers[answer % len(answers)])
    return job


def _feed_car(content: bytes) -> bool:
    ruleset, job = supplied(), car(content)
    decision = decide(ruleset, job)
    assert decision.complete == all(panel.treatment for panel in decision.panels.values())
    plan = make_plan(ruleset, decision)
    json.dumps(plan_json(plan))
    explainer = Explainer(evaluate(compile_ruleset(ruleset), job))
    for name in job.panels:
        assert explainer.treatment(name).text
        other = list(ruleset.treatments)[len(content) % len(ruleset.treatments)]
        assert explainer.why_not(name, other)
    return True


# --- folders with one file spoilt -----------------------------------------------------------------


def _laid_out(parts: Sequence[str], place: Path) -> Path:
    """A rule set laid together from folders of `tests/unit`; `small_shop` stands above it."""
    target = place / "set"
    for part in parts:
        below = target / "supplied" if part == "small_ruleset" and "small_shop" in parts else target
        shutil.copytree(UNIT / part, below, dirs_exist_ok=True)
    return target


@cache
def _files(part: str) -> tuple[bytes, ...]:
    """Each file as its name, an end of line, and what it holds."""
    root = UNIT / part
    return tuple(
        path.relative_to(root).as_posix().encode() + b"\n" + path.read_bytes()
        for path in sorted([*root.rglob("*.yaml"), *root.rglob("*.json")])
    )


def _feed_folder(parts: Sequence[str], load: Callable[[Path], object], content: bytes) -> bool:
    name, _, text = content.partition(b"\n")
    files = [seed.partition(b"\n")[0].decode() for seed in _files(parts[-1])]
    # A spoilt name still spoils one of the files.
    file = name.decode("utf-8", "replace")
    file = file if file in files else files[sum(name) % len(files)]
    with folder() as place:
        target = _laid_out(parts, place)
        (target / file).write_bytes(text)
        try:
            load(target)
        except PrepwrightError as error:
            return in_words(error)
    return True


def _load_spanish(place: Path) -> RuleSet:
    return in_language(load_ruleset(place, with_cases=False), place, "es")


# --- files of reports -----------------------------------------------------------------------------


@cache
def _report_files() -> tuple[bytes, ...]:
    vehicles = sorted((report_folder() / "vehicles").glob("*.yaml"))
    return tuple(path.read_bytes() for path in (report_folder() / "customer.yaml", *vehicles))


def _feed_report_file(content: bytes) -> bool:
    with folder() as place:
        path = place / "file.yaml"
        path.write_bytes(content)
        try:
            customer_words(path) if b"treatments:" in content else read_vehicle(path)
        except InputError as error:
            return in_words(error)
    return True


# --- imports --------------------------------------------------------------------------------------


def rechained(content: bytes) -> bytes:
    """An export with hashes and seal put right for what it says now; as it is where it is none."""
    try:
        export = json.loads(content)
        previous, head = GENESIS, None
        for item in export["chain"]:
            item["previous"] = previous
            row = Row._make(
                {
                    **item,
                    "clock_set_back": int(item["clock_set_back"]),
                    "payload": canonical(item["payload"]).decode(),
                }[name]
                for name in Row._fields
            )
            item["hash"] = previous = hash_of(row)
            head = Seal(row.sequence, previous)
        assert head is not None
        export["seal"] = {"full": head.full, "short": str(head)}
        return json.dumps(export).encode()
    except Exception:
        return content


def feed_import(content: bytes) -> bool:
    """Import what is said, into an empty store, and look at the jobs that came of it."""
    with folder() as place:
        path = place / "export.json"
        path.write_bytes(rechained(content))
        store = Store.open(place / "store.db")
        try:
            import_file(store, path, "fuzz")
        except PrepwrightError as error:
            return in_words(error)
        finally:
            store.close()
    return True


# --- command lines --------------------------------------------------------------------------------

_RECKONINGS = (
    "gauge --readings '5.1, 5.0 mil' --known 5mil --tolerance 0.2mil",
    "dew-point --air 68F --humidity 60%",
    "humidity --air 20C --wet-bulb 15C --pressure 1013hPa",
    "hardener --filler 200g --added 5g",
    "survey --readings '5.0, 5.1, 5.0, 5.1, 4.9, 9.8 mil'",
    "spots --area 200ft2",
    "build --film 2mil --coat 4mil --substrate steel",
    "filler --area 0.1m2 --depth 7mm --shape cone",
    "coverage --wet-film 5mil --solids 50% --thinner 25%",
    "voc-average --base 600g/L --clear 420g/L",
    "grits --from P80 --to P320",
    "cure --product clearcoat --metal 30C",
    "recoat --elapsed 1h --opens 30min --closes 72h",
    "rust --share 4% --spread S",
    "flaking --share 2% --size 5mm",
    "adhesion --lost 5%",
    "cut-test --film 100um --texture smooth",
    "blisters --size 4 --frequency M",
    "twa --sample 150 2h --in ppm",
    "mixture --part 500 1000 --part 45 200 --in ppm",
    "long-shift --hours 10h",
    "vapour --molar-mass 168.2 --air 25C --pressure 1013.25hPa --ppm 1",
    "mix --volume 1L --part clear=2 --part hardener=1",
    "bake --hold 30min --target 60C --metal 20C --trial-time 10min --trial-reached 45C --oven 70C",
    "acceptance --by pa2 --readings '100,110,105 um' --minimum 100um --maximum 150um --json",
)


@cache
def _lines() -> tuple[bytes, ...]:
    return tuple(line.encode() for line in _RECKONINGS)


def _feed_line(content: bytes) -> bool:
    text = content.decode("utf-8", "replace")
    try:
        words = shlex.split(text)
    except ValueError:
        words = text.split()
    out, trouble = io.StringIO(), io.StringIO()
    with _loaded_once(), contextlib.redirect_stdout(out), contextlib.redirect_stderr(trouble):
        code = run(["reckon", *words])
    said = trouble.getvalue()
    assert "unexpected trouble" not in said, said
    assert "\x1b" not in out.getvalue() + said, "an escape sequence reached the screen"
    assert code == 0 or said.strip() or out.getvalue().strip(), f"nothing is said for {code}"
    return code == 0


@contextlib.contextmanager
def _loaded_once() -> Any:
    real = cli.consult.load

    def load(place: Path | None = None, **options: Any) -> RuleSet:
        return real(place, **options) if place is not None else supplied()

    cli.consult.load = load
    os.environ["PREPWRIGHT_TRACE"] = "1"
    try:
        yield
    finally:
        cli.consult.load = real
        del os.environ["PREPWRIGHT_TRACE"]


def targets(exports: Callable[[], Sequence[bytes]]) -> tuple[Target, ...]:
    """These targets; `exports` gives good exports of a record."""
    rules, shop, spanish = (
        ("small_ruleset",),
        ("small_ruleset", "small_shop"),
        ("small_ruleset", "small_language"),
    )
    return (
        Target("decisions", _cars, _feed_car, 0.001),
        Target(
            "rules", partial(_files, rules[-1]), partial(_feed_folder, rules, load_ruleset), 0.04
        ),
        Target("shops", partial(_files, shop[-1]), partial(_feed_folder, shop, load_ruleset), 0.01),
        Target(
            "languages",
            partial(_files, spanish[-1]),
            partial(_feed_folder, spanish, _load_spanish),
            0.01,
        ),
        Target("reports", _report_files, _feed_report_file, 0.02),
        Target("imports", exports, feed_import, 0.003),
        Target("commands", _lines, _feed_line, 0.05),
    )
