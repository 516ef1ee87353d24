"""Questions in small, worked by hand: what is asked, in which order, and what it bears on."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from engine.facts import JobFacts, Told
from engine.quantity import Kind
from engine.reasoning.asking import Inquiry, Question
from engine.reasoning.evaluate import Evaluation, evaluate
from engine.reasoning.program import compile_ruleset
from engine.ruleset.model import (
    About,
    Choice,
    Condition,
    Effort,
    FactKind,
    FactSpec,
    Gathered,
    Leaf,
    Refusal,
    Rule,
    Then,
)
from engine.ruleset.model import Test as LeafTest
from tests.unit.rules_by_hand import HERE, SOURCE, every, no, rule_set, some

PANEL, CAR = About.PANEL, About.CAR


def choice(id_: str, *choices: str, about: About = PANEL, **more: object) -> FactSpec:
    listed = tuple(Choice(each, each) for each in choices or ("no", "yes"))
    return FactSpec(
        id_,
        about,
        FactKind.CHOICE,
        HERE,
        id_,
        choices=listed,
        **more,  # type: ignore[arg-type]
    )


def is_(fact: str, *choices: str) -> Leaf:
    return Leaf(fact, LeafTest.IS, frozenset(choices), HERE)


def unknown(fact: str) -> Leaf:
    return Leaf(fact, LeafTest.KNOWN, "no", HERE)


def rule(id_: str, when: Condition, about: About = PANEL, **then: object) -> Rule:
    beats = then.pop("beats", ())
    return Rule(
        id_,
        about,
        "t",
        when,
        Then(**then),
        "b",
        SOURCE,
        HERE,
        beats=beats,  # type: ignore[arg-type]
    )


def inquiry(facts: list[FactSpec], rules: list[Rule]) -> Inquiry:
    return Inquiry(compile_ruleset(rule_set(facts, rules, ("leave", "sand", "strip"))))


def told(asking: Inquiry, panels: dict[str, dict[str, object]], **car: object) -> Evaluation:
    def sheet(values: dict[str, object]) -> dict[str, Told]:
        return {
            fact.replace("_", "."): Told(value, "")  # type: ignore[arg-type]
            for fact, value in values.items()
        }

    job = JobFacts("job", {}, sheet(car), {name: sheet(values) for name, values in panels.items()})
    return evaluate(asking.program, job)


def asked(questions: tuple[Question, ...]) -> list[tuple[str | None, str]]:
    return [(question.panel, question.fact) for question in questions]


# --- what is asked --------------------------------------------------------------------------------


def test_nothing_is_asked_that_a_settled_treatment_makes_idle() -> None:
    asking = inquiry(
        [choice("rust"), choice("dull")],
        [
            rule("rust-strips", is_("rust", "yes"), treatment="strip"),
            rule("dull-sands", is_("dull", "yes"), treatment="sand"),
            rule("else-leave", no(is_("rust", "yes")), treatment="leave"),
        ],
    )
    assert asked(asking.questions(told(asking, {"roof": {}}))) == [
        ("roof", "rust"),
        ("roof", "dull"),
    ]
    assert asked(asking.questions(told(asking, {"roof": {"rust": "yes"}}))) == []
    assert asked(asking.questions(told(asking, {"roof": {"rust": "no"}}))) == [("roof", "dull")]


def test_rules_that_cover_every_answer_between_them_ask_nothing() -> None:
    """Each rule is open, yet no answer changes anything."""
    asking = inquiry(
        [choice("rust")],
        [
            rule("with-rust", is_("rust", "yes"), treatment="sand"),
            rule("without-rust", is_("rust", "no"), treatment="sand"),
        ],
    )
    evaluation = told(asking, {"roof": {}})
    assert asked(tuple(asking.candidates(evaluation))) == [("roof", "rust")]
    assert asking.questions(evaluation) == ()
    assert asking.next_question(evaluation) is None
    completed = asking.complete(evaluation, "roof")
    assert completed is not None
    assert completed.truths.count(True) == 1


def test_a_question_bears_only_on_what_its_answer_can_change() -> None:
    """The treatment is the same either way; the hold is not."""
    asking = inquiry(
        [choice("rust")],
        [
            rule("with-rust", is_("rust", "yes"), treatment="sand", holds=("sign-off",)),
            rule("without-rust", is_("rust", "no"), treatment="sand"),
        ],
    )
    (question,) = asking.questions(told(asking, {"roof": {}}))
    assert question.parts == ("hold",)
    assert question.decides


def test_what_only_beats_a_rule_is_asked_however_light_it_is() -> None:
    """`known-sound` asks for nothing deeper, but it takes `worn` out of the running."""
    asking = inquiry(
        [choice("worn"), choice("sound"), choice("never")],
        [
            rule("worn", is_("worn", "yes"), treatment="strip"),
            rule("base", no(is_("worn", "maybe")), treatment="sand"),
            rule("known-sound", is_("sound", "yes"), treatment="leave", beats=("worn",)),
        ],
    )
    evaluation = told(asking, {"roof": {"worn": "yes", "never": "no"}})
    assert asked(asking.questions(evaluation)) == [("roof", "sound")]


def test_dont_know_is_an_answer_where_a_rule_tests_for_it() -> None:
    asking = inquiry(
        [choice("lead", "free", "positive"), choice("year", "old", "new")],
        [
            rule("lead-unknown", unknown("lead"), holds=("lead-test",)),
            rule("year", is_("year", "old"), cautions=("lead",)),
        ],
    )
    evaluation = told(asking, {"roof": {}})
    assert asked(asking.questions(evaluation)) == [("roof", "lead"), ("roof", "year")]
    assert asked(asking.questions(told(asking, {"roof": {"lead": None}}))) == [("roof", "year")]


def test_what_was_answered_with_dont_know_comes_last() -> None:
    asking = inquiry(
        [choice("first"), choice("second", effort=Effort.DESTRUCTIVE)],
        [
            rule("first", is_("first", "yes"), holds=("x",)),
            rule("second", is_("second", "yes"), holds=("y",)),
        ],
    )
    assert asked(asking.questions(told(asking, {"roof": {}})))[0] == ("roof", "first")
    questions = asking.questions(told(asking, {"roof": {"first": None}}))
    assert asked(questions) == [("roof", "second"), ("roof", "first")]
    assert [question.unsure for question in questions] == [False, True]


def test_what_stays_unsure_hides_no_question_in_whatever_order_the_rules_stand() -> None:
    known = {name: no(unknown(name)) for name in ("first", "second", "third")}
    rules = [
        rule("either", some(known["first"], known["second"]), cautions=("x",)),
        rule("both", every(known["second"], known["third"]), cautions=("x",)),
    ]
    for several in (rules, rules[::-1]):
        asking = inquiry([choice(name) for name in known], several)
        evaluation = told(asking, {"roof": {"first": None}})
        assert ("roof", "second") in asked(asking.questions(evaluation))


def test_hazards_before_effort_and_the_car_before_panels() -> None:
    asking = inquiry(
        [
            choice("look"),
            choice("car.look", about=CAR),
            choice("hazard", effort=Effort.TEST, hazard=True),
            choice("only-a-step"),
        ],
        [
            rule("a", is_("look", "yes"), holds=("a",)),
            rule("b", is_("car.look", "yes"), holds=("b",)),
            rule("c", is_("hazard", "yes"), holds=("c",)),
            rule("d", is_("only-a-step", "yes"), steps=("d",)),
        ],
    )
    assert asked(asking.questions(told(asking, {"roof": {}}))) == [
        ("roof", "hazard"),
        (None, "car.look"),
        ("roof", "look"),
        ("roof", "only-a-step"),
    ]


# --- gates, refusals, other panels ----------------------------------------------------------------


def test_whether_a_fact_applies_is_asked_before_the_fact() -> None:
    asking = inquiry(
        [choice("metal", effort=Effort.TEST), choice("rust", ask_when=is_("metal", "yes"))],
        [rule("rust", is_("rust", "yes"), treatment="strip")],
    )
    assert asked(asking.questions(told(asking, {"roof": {}}))) == [
        ("roof", "metal"),
        ("roof", "rust"),
    ]
    assert asked(asking.questions(told(asking, {"roof": {"metal": "no"}}))) == []
    # "Don't know" and then "no": the fact does not apply, and nothing stays open for it.
    assert asked(asking.questions(told(asking, {"roof": {"metal": "no", "rust": None}}))) == []


def test_an_answer_is_not_tried_where_it_could_not_be_given() -> None:
    """On plastic nothing is read, so what a reading would say cannot tell plastic from steel."""
    asking = inquiry(
        [
            choice("material", "steel", "plastic"),
            choice("reading", "thin", "thick", ask_when=is_("material", "steel")),
        ],
        [
            rule("thick", is_("reading", "thick"), treatment="strip"),
            rule("other", no(is_("reading", "thick")), treatment="sand"),
        ],
    )
    assert asked(asking.questions(told(asking, {"roof": {"material": "plastic"}}))) == []
    assert asked(asking.questions(told(asking, {"roof": {"reading": "thick"}}))) == []
    assert ("roof", "material") in asked(asking.questions(told(asking, {"roof": {}})))


def gauge_and_readings() -> Inquiry:
    refusal = Refusal(is_("gauge", "magnetic"), "A magnetic gauge does not read this.")
    return inquiry(
        [
            choice("gauge", "magnetic", "eddy-current"),
            replace(
                FactSpec("film", PANEL, FactKind.QUANTITY, HERE, "film", quantity=Kind.COUNT),
                refusal=refusal,
            ),
        ],
        [
            rule(
                "thick",
                Leaf("film", LeafTest.ABOVE, Fraction(5), HERE),
                treatment="strip",
            ),
            rule(
                "thin",
                Leaf("film", LeafTest.AT_MOST, Fraction(5), HERE),
                treatment="sand",
            ),
        ],
    )


def test_a_reading_decides_nothing_until_it_is_known_to_be_one() -> None:
    asking = gauge_and_readings()
    pending = told(asking, {"roof": {"film": Fraction(9)}})
    assert list(pending.panels["roof"].pending) == ["film"]
    assert True not in pending.panels["roof"].truths
    refused = told(asking, {"roof": {"film": Fraction(9), "gauge": "magnetic"}})
    assert list(refused.panels["roof"].refused) == ["film"]
    assert refused.panels["roof"].pending == {}
    taken = told(asking, {"roof": {"film": Fraction(9), "gauge": "eddy-current"}})
    assert asking.questions(taken) == ()
    assert taken.panels["roof"].truths == [True, False]


def test_a_question_rests_on_what_could_set_its_answer_aside() -> None:
    asking = gauge_and_readings()
    assert asked(asking.questions(told(asking, {"roof": {}}))) == [("roof", "film")]
    assert set(asking.stakes(told(asking, {"roof": {}}))) == {("roof", "gauge"), ("roof", "film")}


def any_stripped() -> Inquiry:
    return inquiry(
        [
            choice("rust"),
            choice("booth", about=CAR),
            FactSpec(
                "any-rust",
                CAR,
                FactKind.YES_NO,
                HERE,
                "any",
                gathered=Gathered("any", is_("rust", "yes")),
            ),
        ],
        [
            rule("own", every(is_("any-rust", "yes"), is_("rust", "no")), holds=("check-again",)),
            rule("car", every(is_("any-rust", "yes"), is_("booth", "no")), CAR, cautions=("dust",)),
        ],
    )


def test_what_another_panel_has_is_asked_of_that_panel() -> None:
    asking = any_stripped()
    evaluation = told(asking, {"roof": {"rust": "no"}, "bonnet": {}}, booth="yes")
    assert asked(asking.questions(evaluation)) == [("bonnet", "rust")]
    (question,) = asking.questions(evaluation)
    assert question.rules == ("own",)


def test_a_panel_that_has_it_settles_it_for_all() -> None:
    asking = any_stripped()
    evaluation = told(asking, {"roof": {"rust": "yes"}, "bonnet": {}})
    assert asked(asking.questions(evaluation)) == [(None, "booth"), ("bonnet", "rust")]
    assert [question.parts for question in asking.questions(evaluation)] == [
        ("caution",),
        ("hold",),
    ]


def test_skipped_questions_are_passed_over() -> None:
    asking = any_stripped()
    evaluation = told(asking, {"roof": {"rust": "yes"}, "bonnet": {}})
    question = asking.next_question(evaluation, skip=[(None, "booth")])
    assert question is not None
    assert (question.panel, question.fact) == ("bonnet", "rust")


# --- budgets --------------------------------------------------------------------------------------


def masked(count: int) -> Inquiry:
    """A treatment in which `idle` never matters, hidden behind many others."""
    others = [choice(f"f{number}", "a", "b") for number in range(count)]
    wide = [is_(spec.id, "a") for spec in others]
    return inquiry(
        [*others, choice("idle", "a", "b")],
        [
            rule("one", every(is_("idle", "a"), some(*wide)), treatment="sand"),
            rule("two", every(is_("idle", "b"), some(*wide)), treatment="sand"),
        ],
    )


def test_past_its_budget_a_question_is_kept_and_the_same_ones_each_time() -> None:
    exact = masked(10)
    evaluation = told(exact, {"roof": {}})
    roomy = Inquiry(exact.program, budget=100_000, allowance=10**7)
    assert ("roof", "idle") not in asked(roomy.questions(evaluation))
    tight = Inquiry(exact.program, budget=4)
    first = asked(tight.questions(evaluation))
    assert ("roof", "idle") in first
    assert asked(tight.questions(evaluation)) == first
    assert asked(Inquiry(exact.program, budget=4).questions(evaluation)) == first


def test_past_the_allowance_the_rest_is_kept_whatever_was_remembered() -> None:
    program = masked(4).program
    asking = Inquiry(program, budget=100_000, allowance=3)
    panels = {"roof": {"f0": "b"}, "bonnet": {"f1": "b"}, "door": {"f2": "b", "f3": "b"}}
    evaluation = told(asking, panels)
    cold = asked(asking.questions(evaluation))
    for name in panels:
        asking.questions(told(asking, {name: panels[name]}))
    assert asked(asking.questions(evaluation)) == cold
    assert any(fact == "idle" for _, fact in cold)


def test_twenty_panels_alike_cost_no_more_than_one() -> None:
    spent = {}
    for count in (1, 20):
        asking = masked(4)
        evaluation = told(asking, {f"panel {number}": {} for number in range(count)})
        assert len(asking.questions(evaluation)) == 4 * count
        spent[count] = sum(cost for _, cost in asking._remembered.values())
    assert spent[20] == spent[1]
