"""The worked cases of old and new rules, decided under both."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from engine.errors import InputError, PrepwrightError
from engine.facts import JobFacts
from engine.impact.comparison import Comparison
from engine.impact.tally import Tally
from engine.ruleset.model import CaseSpec, RuleSet
from engine.ruleset.run_cases import case_facts_of

Progress = Callable[[int, int], None]


def worked_impact(old: RuleSet, new: RuleSet, progress: Progress | None = None) -> Tally:
    """What differs for the worked cases of both rule sets, loaded with their cases.

    Of cases with the same title that of the new rules is taken. What a case expects is not looked
    at: `rules check` does that.
    """
    comparison = Comparison(old, new)
    cases = list(_cases(old, new))
    tally = Tally()
    for case, found in cases:
        if isinstance(found, InputError):
            tally.fail(found.format_message(), case.id)
        else:
            try:
                tally.add(comparison.of(found), case.id)
            except PrepwrightError as error:
                tally.fail(error.format_message(), case.id)
        tally.looked_at += 1
        if progress is not None:
            progress(tally.looked_at, len(cases))
    return tally


def _cases(old: RuleSet, new: RuleSet) -> Iterator[tuple[CaseSpec, JobFacts | InputError]]:
    yield from case_facts_of(new)
    titles = {case.id for case in new.cases}
    yield from ((case, found) for case, found in case_facts_of(old) if case.id not in titles)
