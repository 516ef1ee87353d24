"""Whatever the second engine cannot agree with is refused loudly, and does not linger."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from types import SimpleNamespace
from typing import Any

import pytest

from engine.errors import ReasoningDisagreement
from engine.facts import Told
from engine.reasoning import second
from engine.reasoning.evaluate import evaluate
from engine.reasoning.second import SecondEngine, available
from engine.reasoning.second_rows import RowWriter
from engine.ruleset.model import Condition
from engine.ruleset.model import Test as LeafTest
from tests.unit.second_sample import fired, job, simple

pytestmark = pytest.mark.skipif(available() is not None, reason=str(available()))


def test_a_row_lost_in_translation_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    write = RowWriter.write

    def forgetful(self: RowWriter, owner: int, condition: Condition) -> None:
        write(self, owner, condition)
        if owner == 0:
            self.lines.pop()

    monkeypatch.setattr(RowWriter, "write", forgetful)
    compiled = simple()
    with SecondEngine(compiled) as engine:
        evaluate(compiled, job(n=Fraction(5), c="a"), watch=engine.watch())
        with pytest.raises(ReasoningDisagreement) as refused:
            evaluate(compiled, job(n=Fraction(6), c="a"), watch=engine.watch())
    message = refused.value.format_message()
    assert "bonnet" in message
    assert "rule film-over holds by the evaluator, but does not fire in durable-rules 2" in message
    assert "choice-a" not in message
    assert "Nothing is recommended" in message
    assert refused.value.exit_code == 1


def test_a_code_off_by_one_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(second.Attributes, "allowed", _lenient(second.Attributes.allowed))
    compiled = simple()
    with SecondEngine(compiled) as engine, pytest.raises(ReasoningDisagreement) as refused:
        evaluate(compiled, job(n=Fraction(5), c="b"), watch=engine.watch())
    assert "rule film-over fires in durable-rules 2" in refused.value.format_message()
    assert "does not hold by the evaluator" in refused.value.format_message()


def _lenient(allowed):  # type: ignore[no-untyped-def]
    def lenient(self, one):  # type: ignore[no-untyped-def]
        if one.test is LeafTest.ABOVE:
            one = replace(one, test=LeafTest.AT_LEAST)
        return allowed(self, one)

    return lenient


def test_an_evaluator_that_errs_is_refused() -> None:
    compiled = simple()
    with SecondEngine(compiled) as engine:
        check = engine.watch()
        facts = job(n=Fraction(6), c="a").tell("car", None, "car.k", Told("b", ""))
        evaluation = evaluate(compiled, facts, watch=check)
        car, panel = evaluation.car, evaluation.panels["bonnet"]
        panel.truths[1] = None
        with pytest.raises(ReasoningDisagreement, match=r"panel bonnet: rule choice-a fires in"):
            check(0, compiled.levels[0], panel, "bonnet")
        car.truths[2] = True
        with pytest.raises(ReasoningDisagreement, match=r"the car: rule on-car holds by the eval"):
            check(0, compiled.levels[0], car, None)


def core_with(**changed: Any) -> Callable[[], Any]:
    """The core of the library with some of its functions exchanged."""
    real = second._core()
    kept = {name: getattr(real, name) for name in dir(real) if not name.startswith("_")}
    return lambda: SimpleNamespace(**{**kept, **changed})


def test_a_failure_inside_the_library_is_refused_and_does_not_linger(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    compiled = simple()
    facts = job(n=Fraction(6), c="a")
    real = second._core()
    failures: list[tuple[dict[str, Any], str]] = [
        ({"assert_fact": lambda handle, fact: 1 / 0}, "division by zero"),
        ({"assert_fact": lambda handle, fact: (1, 0)}, "the fact was not taken"),
        ({"assert_fact": lambda handle, fact: (2, 0)}, "the fact was not taken"),
        ({"complete_and_start_action": lambda handle, state: 1 / 0}, "division by zero"),
        ({"start_action_for_state": lambda handle, state: None}, "not seen exactly once"),
    ]
    with SecondEngine(compiled) as engine:
        for changed, why in failures:
            with monkeypatch.context() as broken:
                broken.setattr(second, "_core", core_with(**changed))
                with pytest.raises(ReasoningDisagreement, match=why):
                    evaluate(compiled, facts, watch=engine.watch())
        assert second._core() is real
        evaluate(compiled, facts, watch=engine.watch())


def test_a_session_takes_few_facts_one_after_the_other_and_then_another_begins(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    compiled = simple()
    real = second._core()
    told, deleted = [], []

    def delete(handle: int, session: str) -> None:
        deleted.append(session)
        real.delete_state(handle, session)

    def tell(handle: int, fact: str) -> Any:
        told.append(json.loads(fact)["sid"])
        return real.assert_fact(handle, fact)

    monkeypatch.setattr(second, "_core", core_with(assert_fact=tell, delete_state=delete))
    facts, times = job(n=Fraction(6), c="a"), 3 * second.FACTS + 2
    with SecondEngine(compiled) as engine:
        panel = evaluate(compiled, facts).panels["bonnet"]
        for _ in range(times):
            assert {compiled.rules[i].rule.id for i in engine.fires(0, panel, "bonnet")} == {
                "film-over",
                "choice-a",
            }
            engine.forget()
        assert len(told) == times
        assert max(Counter(told).values()) == second.FACTS
        assert len(deleted) == 3
    assert sorted(deleted) == sorted(set(told))


def test_what_was_interrupted_does_not_turn_up_with_the_next_fact(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    compiled = simple()
    real = second._core()

    def interrupted(handle: int, state: int) -> None:
        raise KeyboardInterrupt

    with SecondEngine(compiled) as engine:
        for value in (Fraction(6), Fraction(1)):
            with monkeypatch.context() as broken:
                broken.setattr(second, "_core", core_with(complete_and_start_action=interrupted))
                with pytest.raises(KeyboardInterrupt):
                    evaluate(compiled, job(n=value, c="a"), watch=engine.watch())
            assert fired(engine, compiled, job(n=value, c="a")) >= {"choice-a"}
    assert second._core() is real


def test_a_firing_for_another_fact_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    compiled = simple()
    real = second._core()

    def another(handle: int, state: int) -> tuple[str, str] | None:
        begun = real.start_action_for_state(handle, state)
        return begun and (begun[0], begun[1].replace('"id": ', '"id": 1'))

    monkeypatch.setattr(second, "_core", core_with(start_action_for_state=another))
    with SecondEngine(compiled) as engine, pytest.raises(ReasoningDisagreement, match="another"):
        evaluate(compiled, job(c="a"), watch=engine.watch())
