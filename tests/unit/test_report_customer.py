"""What a customer reads: plain words for every decision, and none of the trade's own."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from report_pages import PRINTED, bookmobile, drawings, job, page, planned, supplied, texts, words

from cli.report.customer import customer_words, work_on
from cli.report.holds import hold_sheet
from cli.report.page import For, Paper, Printing, report_html
from cli.report.panels import cards
from cli.report.placing import placed_on
from engine.errors import InputError
from engine.plan import Progress


def test_the_customer_reads_plain_words_time_cost_and_what_may_change() -> None:
    plain = customer_words()
    decision, _ = planned(bookmobile())
    shown = words(page(bookmobile(), For.CUSTOMER))
    for treatment in supplied().treatments:
        assert " ".join(plain.treatments[treatment].text.split()) in shown
    assert "No price can be given on this page." in shown
    assert "h of work on" in shown
    assert re.search(r"it is done between \w+day \d+ December 2026 and \w+day \d+ Dec", shown)
    for text in plain.may_change:
        assert " ".join(text.split()) in shown
    assert "two-part paint" in shown
    for panel in decision.panels.values():
        assert panel.because
        for why in panel.because:
            assert " ".join(plain.reasons[why.rule].split()) in shown
            assert why.rule not in shown
            assert " ".join(why.text.split()) not in shown
    for hold in hold_sheet(decision, supplied(), Progress.none()):
        assert plain.holds[hold.topic] in shown
        assert hold.release not in shown


def test_no_rule_that_decides_and_nothing_else_a_customer_reads_lacks_plain_words() -> None:
    plain, rules = customer_words(), supplied()
    deciding = {rule.id for rule in rules.rules.values() if rule.then.treatment is not None}
    assert set(plain.reasons) == deciding
    assert set(plain.treatments) == set(rules.treatments)
    assert set(plain.holds) == set(rules.holds)
    assert set(plain.cautions) == set(rules.cautions)
    for each in (*plain.treatments.values(), plain.undecided):
        # Beside a number of two digits it has to stand uncut on the drawing.
        assert 0 < len(each.short) <= 15
    trade = ("substrate", "e-coat", "film", "mil", " um", "{", "gauge", "adhesion", "solvent")
    for text in plain.reasons.values():
        assert text.endswith(".")
        assert not [word for word in trade if word in text], text


def test_panels_of_one_reason_are_told_together_the_deepest_work_first() -> None:
    decision, plan = planned(bookmobile())
    plain = customer_words()
    found = work_on(plain, supplied(), decision, cards(supplied(), plan.setting, decision))
    titles = [each.words.title for each in found]
    depth = [words.title for words in plain.treatments.values()]
    assert titles == [title for title in reversed(depth) if title in titles]
    told = [card.mark.panel for each in found for reason in each.reasons for card in reason.cards]
    assert sorted(told) == sorted(decision.panels)
    assert sum(each.panels for each in found) == len(decision.panels)
    together = [
        [card.mark.panel for card in reason.cards] for each in found for reason in each.reasons
    ]
    assert ["bonnet", "roof", "rear door right"] in together


def test_a_rule_without_plain_words_is_told_in_its_own() -> None:
    plain = replace(customer_words(), reasons={}, treatments={}, holds={}, cautions={})
    decision, plan = planned(bookmobile())
    placed = placed_on(None, tuple(decision.panels), supplied().vocabulary)
    printing = Printing(For.CUSTOMER, Paper.A4, PRINTED)
    html = report_html(supplied(), decision, plan, Progress.none(), placed, plain, printing)
    shown = words(html)
    for panel in decision.panels.values():
        assert panel.because[0].text in shown
        assert panel.title is not None
        assert panel.title in shown
    assert "Film budget" in shown
    assert "isocyanates" in shown


def test_the_customer_is_told_what_is_not_decided() -> None:
    shown = words(page(job("roof: {substrate: steel}"), For.CUSTOMER))
    assert customer_words().undecided.title in shown
    assert re.search(r"1 roof \d+ things? still to be looked at or measured here\.", shown)
    assert "not decided" in " ".join(
        texts(drawings(page(job("roof: {}"), For.CUSTOMER), "plan")[0])
    )


def test_customer_words_that_are_wrong_are_refused_with_their_place(tmp_path) -> None:
    file = tmp_path / "customer.yaml"
    file.write_text("prepwright: customer-words/1\ntreatments: {sand: {title: Sanded}}\n", "utf-8")
    with pytest.raises(InputError, match=re.escape(f"{file}:2:")):
        customer_words(file)
