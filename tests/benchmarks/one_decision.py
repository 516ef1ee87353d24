"""One decision over the panels of a large job: this evaluator, and the same rules in other engines.

What is timed, for fresh readings every time:

- rules: which rules hold, all facts of every level being given. The other engines are timed for
  exactly this, on the same facts, in the form each takes them, put in and read out again.
- evaluator: the above, and taking the told facts, every reckoning, and settling the treatments.
- evaluator with the second engine: the above with durable-rules agreeing level by level, nothing
  remembered from before.
- decision: the evaluator, the questions worth asking, and every reason in words.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from importlib.util import find_spec

from engine.reasoning.decide import decide, inquiry_for
from engine.reasoning.evaluate import Evaluation, evaluate
from engine.reasoning.program import Program
from engine.reasoning.second import SecondEngine, available
from engine.ruleset import RuleSet
from tests.benchmarks import varied
from tests.benchmarks.measuring import Measured, each, middle
from tests.benchmarks.peers import Clips, Durable, Firings, Flat, Peer, Zen, flat, held

PART = "decision"
PANELS = 20
ROUNDS = 9

_PEERS: tuple[tuple[str, Callable[[Flat], Peer], float | None], ...] = (
    ("clips", Clips, 4.0),
    ("zen", Zen, 5.0),
    ("durable", Durable, None),
)
"""The module each needs, and how many times faster the evaluator is to be."""


def measure(ruleset: RuleSet, panels: int = PANELS, rounds: int = ROUNDS) -> Iterator[Measured]:
    """Raises SystemExit where an engine fires anything but what the evaluator holds true."""
    program = inquiry_for(ruleset).program
    jobs = [varied.panels_of(ruleset, panels, seed=seed) for seed in range(5 * rounds)]
    for job in jobs[:rounds]:
        decide(ruleset, job)
    of = f"{panels} panels"

    took = each([lambda job=job: evaluate(program, job) for job in jobs[rounds : 2 * rounds]])
    yield Measured(PART, f"{of}: evaluator, median", middle(took), "ms")
    if available() is None:
        second = SecondEngine(program)

        def watched(job: object) -> None:
            second.forget()
            evaluate(program, job, second.watch())  # type: ignore[arg-type]

        took = each([lambda job=job: watched(job) for job in jobs[2 * rounds : 3 * rounds]])
        what = f"{of}: evaluator with the second engine, median"
        yield Measured(PART, what, middle(took), "ms", goal=15)
    took = each([lambda job=job: decide(ruleset, job) for job in jobs[3 * rounds : 4 * rounds]])
    yield Measured(PART, f"{of}: decision with reasons and questions, median", middle(took), "ms")

    evaluations = [evaluate(program, job) for job in jobs[4 * rounds :]]
    own = each([lambda one=one: rules_alone(program, one) for one in evaluations])
    yield Measured(PART, f"{of}: rules alone, median", middle(own), "ms")
    laid = flat(program)
    for module, make, goal in _PEERS:
        if find_spec(module) is None:
            yield Measured(PART, f"{module} is not installed", 0, "")
            continue
        peer = make(laid)
        took = sorted(_asked(peer, laid, program, one) for one in evaluations)
        yield Measured(PART, f"{of}: {peer.name}, same rules, median", middle(took), "ms")
        yield Measured(
            PART,
            f"{of}: {peer.name} takes so many times as long as the rules alone",
            middle(took) / middle(own),
            "times",
            goal=goal,
            at_most=False,
            note=f"the same firings in {len(evaluations)} decisions",
        )


def rules_alone(program: Program, evaluation: Evaluation) -> Firings:
    """What the rules make of facts that are worked out already, as the evaluator runs them."""
    found: Firings = {}
    rules = program.rules
    for number, level in enumerate(program.levels):
        for where, subject in ((None, evaluation.car), *evaluation.panels.items()):
            candidates = level.car_candidates if where is None else level.panel_candidates
            vector = subject.vector
            held = [i for i in candidates.of(vector) if rules[i].holds(vector) is True]
            if level.car_rules if where is None else level.panel_rules:
                found[number, where] = frozenset(held)
    return found


def _asked(peer: Peer, laid: Flat, program: Program, evaluation: Evaluation) -> float:
    facts = laid.facts(evaluation)
    if isinstance(peer, Durable):
        peer.evaluation = evaluation
    answers: list[Firings] = []
    (took,) = each([lambda: answers.append(peer.fires(facts))])
    wanted = held(program, evaluation)
    if answers[0] != wanted or rules_alone(program, evaluation) != wanted:
        raise SystemExit(f"{peer.name} does not fire what the evaluator holds true")
    return took
