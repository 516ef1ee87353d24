"""The second engine fires what holds, whatever the state of a fact, and uses the library well."""

from __future__ import annotations

import subprocess
import sys
import threading
from dataclasses import replace
from fractions import Fraction
from itertools import product
from types import SimpleNamespace

import pytest

from engine.answers import read_value
from engine.facts import JobFacts
from engine.reasoning import second
from engine.reasoning.evaluate import evaluate
from engine.reasoning.program import compile_ruleset
from engine.reasoning.second import SecondEngine, available
from engine.reasoning.second_rows import CONJUNCTIONS, Attributes, RowWriter
from engine.ruleset import load_ruleset
from engine.ruleset.model import Condition, FactKind
from engine.ruleset.model import Test as LeafTest
from engine.supplied import supplied_ruleset_folder
from tests.unit.rules_by_hand import every, no, some
from tests.unit.second_sample import ON_CAR, fact, fired, job, leaf, one_of, program, simple

pytestmark = pytest.mark.skipif(available() is not None, reason=str(available()))

# --- what fires -----------------------------------------------------------------------------------

EDGES = [
    Fraction(0),
    Fraction(1, 10**7),
    Fraction(2, 10**7),
    Fraction(1, 3),
    Fraction(2**63),
    Fraction(2**63 + 2**12),
    Fraction(10) ** 22,
    Fraction(-5),
]


def test_numbers_at_and_around_their_limits() -> None:
    tests = {
        LeafTest.ABOVE: lambda value, limit: value > limit,
        LeafTest.AT_LEAST: lambda value, limit: value >= limit,
        LeafTest.BELOW: lambda value, limit: value < limit,
        LeafTest.AT_MOST: lambda value, limit: value <= limit,
    }
    conditions: dict[str, Condition] = {}
    expected = {}
    for (test, holds), (place, limit) in product(tests.items(), enumerate(EDGES)):
        for negated in (False, True):
            name = f"{'not-' if negated else ''}{test}-{place}"
            one = leaf("n", test, limit)
            conditions[name] = no(one) if negated else one
            expected[name] = (holds, limit, negated)
    conditions["is"] = leaf("n", LeafTest.IS, frozenset((EDGES[1], EDGES[6])))
    compiled = program([fact("n", FactKind.QUANTITY)], conditions)
    with SecondEngine(compiled) as engine:
        between = [limit + Fraction(1, 10**9) for limit in EDGES[:4]]
        for value in [*EDGES, *between, Fraction(-(10**30)), Fraction(10**30)]:
            want = {
                name
                for name, (holds, limit, negated) in expected.items()
                if holds(value, limit) is not negated
            }
            want |= {"is"} if value in (EDGES[1], EDGES[6]) else set()
            assert fired(engine, compiled, job(n=value)) == want


STATES = ["value", "other value", "unsure", "open", "not applicable"]


@pytest.mark.parametrize("state", STATES)
def test_every_kind_of_test_on_every_state(state: str) -> None:
    gate = one_of("gate", "yes")
    facts = [
        fact("gate", FactKind.YES_NO, "no", "yes"),
        replace(fact("c", FactKind.CHOICE, "a", "b", "d"), ask_when=gate),
        replace(fact("s", FactKind.SET, "a", "b", "d"), ask_when=gate),
        replace(fact("n", FactKind.QUANTITY), ask_when=gate),
        replace(fact("t", FactKind.TEXT), ask_when=gate),
    ]
    tests = {
        "c": one_of("c", "a", "d"),
        "s": leaf("s", LeafTest.INCLUDES, frozenset(("a", "d"))),
        "n": leaf("n", LeafTest.ABOVE, Fraction(5)),
    }
    conditions: dict[str, Condition] = {}
    for name in "csnt":
        if name in tests:
            conditions[name] = tests[name]
            conditions[f"not {name}"] = no(tests[name])
            conditions[f"{name} either way"] = some(tests[name], no(tests[name]))
            conditions[f"{name} both ways"] = every(tests[name], no(tests[name]))
        conditions[f"{name} known"] = leaf(name, LeafTest.KNOWN, "yes")
        conditions[f"{name} unknown"] = leaf(name, LeafTest.KNOWN, "no")
        conditions[f"{name} not unknown"] = no(leaf(name, LeafTest.KNOWN, "no"))
    compiled = program(facts, conditions)
    told: dict[str, object] = {"gate": "no" if state == "not applicable" else "yes"}
    if state == "value":
        told |= {"c": "d", "s": frozenset("ab"), "n": Fraction(6), "t": "words"}
    elif state == "other value":
        told |= {"c": "b", "s": frozenset("b"), "n": Fraction(5), "t": "words"}
    elif state == "unsure":
        told |= dict.fromkeys("csnt")
    known = {f"{name} {word}" for name in "csnt" for word in ("known", "not unknown")}
    either = {f"{name} either way" for name in "csn"}
    want = {
        "value": {"c", "s", "n"} | either | known,
        "other value": {"not c", "not s", "not n"} | either | known,
        "unsure": {f"{name} unknown" for name in "csnt"},
        "open": set(),
        "not applicable": {"not c", "not s", "not n"}
        | either
        | {f"{name} unknown" for name in "csnt"},
    }[state]
    with SecondEngine(compiled) as engine:
        assert fired(engine, compiled, job(**told)) == want


def test_a_rule_that_multiplies_out_too_far_is_split_and_means_the_same() -> None:
    """Tried on all 729 ways six facts can turn out."""
    facts = [fact(f"f{number}", FactKind.CHOICE, "a", "b", "c") for number in range(6)]
    pairs = [
        some(one_of(f"f{number}", "a"), one_of(f"f{(number + 1) % 6}", "b")) for number in range(6)
    ]
    wide = every(*pairs[:3], no(every(*pairs[3:])))
    deep = every(some(every(*pairs[:4]), every(*pairs[2:])), some(*pairs[::2]), no(pairs[5]))
    compiled = program(facts, {"wide": wide, "deep": deep, "single": pairs[0]})
    writer = RowWriter(Attributes(compiled))
    for rule in compiled.rules:
        writer.write(rule.index, rule.rule.when)
    owners = [line.owner for line in writer.lines]
    assert max(owners.count(owner) for owner in owners) <= CONJUNCTIONS
    assert any(isinstance(owner, str) for owner in owners), "no part was split off"
    with SecondEngine(compiled) as engine:
        seen: set[frozenset[str]] = set()
        for letters in product("abc", repeat=6):
            told = {f"f{number}": letter for number, letter in enumerate(letters)}
            hits = [
                letters[number] == "a" or letters[(number + 1) % 6] == "b" for number in range(6)
            ]
            want = {"wide"} if all(hits[:3]) and not all(hits[3:]) else set()
            if (all(hits[:4]) or all(hits[2:])) and any(hits[::2]) and not hits[5]:
                want.add("deep")
            want |= {"single"} if hits[0] else set()
            assert fired(engine, compiled, job(**told)) == want
            seen.add(frozenset(want))
        assert len(seen) >= 4


def test_more_rules_than_one_ruleset_of_the_library_takes() -> None:
    facts = [fact("n", FactKind.QUANTITY)]
    conditions = {
        f"r{limit}": leaf("n", LeafTest.ABOVE, Fraction(limit)) for limit in range(3 * second.ROWS)
    }
    compiled = program(facts, dict(conditions))
    with SecondEngine(compiled) as engine:
        for value in (0, 1, 70, 3 * second.ROWS):
            assert len(fired(engine, compiled, job(n=Fraction(value)))) == value


def test_a_rule_without_tests_always_fires_and_one_that_cannot_hold_never() -> None:
    facts = [fact("c", FactKind.CHOICE, "a", "b")]
    compiled = program(facts, {"always": every(), "never": some(), "c": one_of("c", "a")})
    assert compiled.rules[0].rule.about is ON_CAR
    with SecondEngine(compiled) as engine:
        evaluation = evaluate(compiled, job(c="a"), watch=engine.watch())
        assert engine.fires(0, evaluation.car, None) == {0}


def test_both_engines_agree_on_every_supplied_case() -> None:
    ruleset = load_ruleset(supplied_ruleset_folder())
    compiled = compile_ruleset(ruleset)
    with SecondEngine(compiled) as engine:
        for case in ruleset.cases:
            sheets = [
                {id_: read_value(ruleset.facts[id_], raw, case.place) for id_, raw in told.items()}
                for told in (case.shop, case.car, case.panel)
            ]
            facts = JobFacts(case.id, sheets[0], sheets[1], {"one": sheets[2], "two": {}})
            evaluate(compiled, facts, watch=engine.watch())


# --- how it behaves -------------------------------------------------------------------------------


def test_several_threads_and_several_engines_share_the_library() -> None:
    compiled = simple()
    wrong: list[BaseException] = []
    with SecondEngine(compiled) as one, SecondEngine(compiled) as other:

        def work(engine: SecondEngine, value: int) -> None:
            try:
                for step in range(150):
                    facts = job(n=Fraction(value + step % 3), c="ab"[step % 2])
                    want = {"film-over"} if value + step % 3 > 5 else set()
                    want |= {"choice-a"} if step % 2 == 0 else set()
                    assert fired(engine, compiled, facts) == want
            except BaseException as error:
                wrong.append(error)

        threads = [
            threading.Thread(target=work, args=(engine, value))
            for engine, value in ((one, 3), (other, 4), (one, 5), (other, 6))
        ]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    assert not wrong


def test_where_the_library_does_not_load_the_reason_is_said(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert available() is None
    monkeypatch.setattr(second, "sys", SimpleNamespace(version_info=(3, 13, 1)))
    reason = available.__wrapped__()
    assert reason is not None
    assert "3.13" in reason
    monkeypatch.undo()
    monkeypatch.setitem(sys.modules, "durable.engine", None)
    reason = available.__wrapped__()
    assert reason is not None
    assert "cannot be loaded" in reason


def in_a_new_process(script: str) -> str:
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, timeout=300, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_the_library_is_imported_late_and_starts_no_threads() -> None:
    in_a_new_process(
        "import sys, threading\n"
        "from engine.reasoning.second import SecondEngine, available\n"
        "assert not any(name.startswith('durable') for name in sys.modules)\n"
        "from engine.reasoning.program import compile_ruleset\n"
        "from engine.ruleset import load_ruleset\n"
        "from engine.supplied import supplied_ruleset_folder\n"
        "ruleset = load_ruleset(supplied_ruleset_folder(), with_cases=False)\n"
        "SecondEngine(compile_ruleset(ruleset))\n"
        "assert 'durable.engine' in sys.modules\n"
        "assert threading.active_count() == 1, threading.enumerate()\n"
    )


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="reads /proc")
def test_memory_stays_flat_over_thousands_of_decisions() -> None:
    """Sessions that are not deleted cost 2.4 MB each; rulesets that are not, 300 KB each."""
    grown = in_a_new_process(
        "import resource\n"
        "from fractions import Fraction\n"
        "from pathlib import Path\n"
        "from engine.facts import JobFacts, Told\n"
        "from engine.reasoning.evaluate import evaluate\n"
        "from engine.reasoning.program import compile_ruleset\n"
        "from engine.reasoning.second import SecondEngine\n"
        "from engine.ruleset import load_ruleset\n"
        "from engine.supplied import supplied_ruleset_folder\n"
        "ruleset = load_ruleset(supplied_ruleset_folder(), with_cases=False)\n"
        "program = compile_ruleset(ruleset)\n"
        "def memory():\n"
        "    return int(Path('/proc/self/statm').read_text().split()[1]) * "
        "resource.getpagesize()\n"
        "def decide(engine, times):\n"
        "    for step in range(times):\n"
        "        rust = ('none', 'surface', 'pitted')[step % 3]\n"
        "        told = {'substrate': Told('steel', ''), 'rust': Told(rust, ''),\n"
        "                'rust-area': Told(Fraction(step % 100), '')}\n"
        "        engine._remembered.clear()  # or nothing but the first few would run\n"
        "        evaluate(program, JobFacts('j', panels={'p': told}), watch=engine.watch())\n"
        "engine = SecondEngine(program)\n"
        "decide(engine, 500)\n"
        "for _ in range(3):\n"
        "    with SecondEngine(program) as more: decide(more, 5)\n"
        "before = memory()\n"
        "decide(engine, 3000)\n"
        "for _ in range(20):\n"
        "    with SecondEngine(program) as more: decide(more, 5)\n"
        "print(memory() - before)\n"
    )
    assert int(grown) < 12 * 2**20
