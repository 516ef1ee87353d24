"""Other rule engines, given the supplied rules made out for them, fire what the evaluator fires."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from engine.jobfile import read_job
from engine.reasoning.decide import inquiry_for
from engine.reasoning.evaluate import evaluate
from engine.reasoning.second import available
from engine.ruleset import load_ruleset
from engine.supplied import demo_folder, supplied_ruleset_folder

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks.peers import Clips, Durable, Flat, Peer, Zen, flat, held


@pytest.fixture(scope="module")
def laid() -> Flat:
    ruleset = load_ruleset(supplied_ruleset_folder(), with_cases=False)
    return flat(inquiry_for(ruleset).program)


@pytest.fixture(scope="module", params=["clips", "zen", "durable"])
def peer(request: pytest.FixtureRequest, laid: Flat) -> Peer:
    pytest.importorskip(request.param)
    if request.param == "durable" and available() is not None:
        pytest.skip(str(available()))
    makes: dict[str, type[Clips] | type[Zen] | type[Durable]] = {
        "clips": Clips,
        "zen": Zen,
        "durable": Durable,
    }
    return makes[request.param](laid)


@pytest.mark.parametrize("job", ["bookmobile", "bookmobile-open"])
def test_the_same_rules_fire(peer: Peer, laid: Flat, job: str) -> None:
    facts = read_job(demo_folder() / f"{job}.yaml", laid.program.ruleset)
    evaluation = evaluate(laid.program, facts)
    if isinstance(peer, Durable):
        peer.evaluation = evaluation
    wanted = held(laid.program, evaluation)
    assert sum(map(len, wanted.values())) > 100
    assert peer.fires(laid.facts(evaluation)) == wanted
