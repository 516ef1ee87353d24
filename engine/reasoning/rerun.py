"""Evaluates a job again after an answer or two, without working out what nothing changed for."""

from __future__ import annotations

from collections.abc import Mapping

from engine.facts import JobFacts
from engine.reasoning.evaluate import (
    Evaluation,
    Subject,
    Watch,
    run_car_level,
    run_panel_facts,
    run_panel_level,
    start,
)
from engine.reasoning.program import Level, Program


def evaluate_again(earlier: Evaluation, job: JobFacts, watch: Watch | None = None) -> Evaluation:
    """As `evaluate` for the same program, from an evaluation of nearly the same job.

    Panels whose sheets are the same objects as before are taken over for as long as nothing of
    the car or of other panels comes out otherwise for them. `watch` sees every level of every
    panel all the same.
    """
    program = earlier.program
    car = start(program, {**job.shop, **job.car})
    fresh = {name: start(program, sheet) for name, sheet in job.panels.items()}
    running = _Rerun(program, car, fresh, _told_alike(job, earlier), earlier.car)
    running.run(watch)
    if _alike(car, earlier.car):
        car = earlier.car
    return Evaluation(program, job, car, running.panels)


def _told_alike(job: JobFacts, earlier: Evaluation) -> dict[str, Subject]:
    before = earlier.job.panels
    return {
        name: earlier.panels[name]
        for name, sheet in job.panels.items()
        if before.get(name) is sheet and earlier.panels[name].anyway is None
    }


def _alike(one: Subject, other: Subject) -> bool:
    """Whether two subjects were told the same and came out the same."""
    return (
        one.vector == other.vector
        and one.truths == other.truths
        and one.told == other.told
        and one.exact == other.exact
        and one.refused == other.refused
        and one.pending == other.pending
        and one.failed == other.failed
    )


_MOST_KEPT = 500
"""Looks of a panel, a level, of which it is kept what the rules make of them."""


class _Rerun:
    """A run that takes panels over from an earlier one for as long as nothing differs for them.

    `kept` are those panels, by name; a panel that comes to differ is worked out from its start.
    """

    def __init__(
        self,
        program: Program,
        car: Subject,
        fresh: Mapping[str, Subject],
        kept: Mapping[str, Subject],
        car_before: Subject,
    ) -> None:
        self._program = program
        self._car = car
        self._fresh = fresh
        self._kept = set(kept)
        self._car_before = car_before
        self.panels = {**fresh, **kept}

    def run(self, watch: Watch | None) -> None:
        """Work out every level."""
        program, car, panels = self._program, self._car, self.panels
        for number, level in enumerate(program.levels):
            run_car_level(program, level, car, panels.values())
            if watch and level.car_rules:
                watch(number, level, car, None)
            self._keep(number, level)
            for name, panel in panels.items():
                if name not in self._kept:
                    self._run_panel(level, panel)
                if watch and level.panel_rules:
                    watch(number, level, panel, name)

    def _keep(self, number: int, level: Level) -> None:
        """Let go of every panel for which something differs on this level."""
        if not self._kept:
            return
        if any(self._differs(fact.slot) for fact in level.car_facts):
            gone = list(self._kept)
        else:
            gone = [name for name in self._kept if level.compares and self._moved(level, name)]
        for name in gone:
            self._kept.discard(name)
            panel = self.panels[name] = self._fresh[name]
            for below in self._program.levels[:number]:
                run_panel_level(self._program, below, panel, self._car, self.panels.values())

    def _run_panel(self, level: Level, panel: Subject) -> None:
        run_panel_facts(self._program, level, panel, self._car, self.panels.values())
        vector, truths, kept = panel.vector, panel.truths, level.kept
        # Panels that look alike, and levels that an answer does not reach, come out as before.
        states = tuple([vector[slot] for slot in level.panel_reads])
        found = kept.get(states)
        if found is None:
            if len(kept) >= _MOST_KEPT:
                kept.clear()
            rules = self._program.rules
            found = kept[states] = [
                (index, truth)
                for index in level.panel_candidates.of(vector)
                if (truth := rules[index].holds(vector)) is not False
            ]
        for index, truth in found:
            truths[index] = truth

    def _differs(self, slot: int) -> bool:
        now, before = self._car, self._car_before
        return now.vector[slot] != before.vector[slot] or (
            now.exact.get(slot) != before.exact.get(slot)
        )

    def _moved(self, level: Level, name: str) -> bool:
        """Whether something a panel has of the others comes out otherwise."""
        panel = self.panels[name]
        for fact in level.compares:
            reckoning = fact.reckoning
            if reckoning is None or (fact.gate is not None and not fact.gate(panel.vector)):
                continue
            others = (other for other in self.panels.values() if other is not panel)
            worked = reckoning.work_out(panel, self._car, others)
            if (
                worked.state != panel.vector[fact.slot]
                or worked.exact != panel.exact.get(fact.slot)
                or worked.failure != panel.failed.get(fact.spec.id)
            ):
                return True
        return False


__all__ = ["evaluate_again"]
