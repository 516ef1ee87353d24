"""How many changed rules the worked cases notice: `python -m tests.mutation`.

Every mutant of every rule is shown to the worked cases, on all processors. One that no case
notices is put to an SMT solver: where no car tells it from its rule it makes no difference and
does not count. Printed are the share noticed by kind of change, and each mutant that is not. Ends
with 1 where fewer are noticed than wanted. `--write` keeps what is unnoticed, and what makes no
difference, beside the tests; `--cases FILE` writes cars that tell unnoticed mutants from their
rules as worked cases, to be named, put right and kept.

Needs the extra `prove` (z3-solver).
"""

from __future__ import annotations

import argparse
import multiprocessing
import sys
from collections import Counter
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path

from cli.output.progress import progress_on_stderr
from engine.ruleset import RuleSet, load_ruleset
from engine.supplied import supplied_ruleset_folder
from tests.mutation.mutants import Mutant, mutants
from tests.mutation.noticing import Noticing
from tests.mutation.sameness import Sameness
from tests.mutation.witnesses import Witnesses, cases_yaml

WANTED = 0.95
UNNOTICED = Path(__file__).with_name("unnoticed.txt")
NO_DIFFERENCE = Path(__file__).with_name("no_difference.txt")


@lru_cache(maxsize=1)
def _setting(folder: str) -> tuple[RuleSet, Noticing, list[Mutant]]:
    ruleset = load_ruleset(Path(folder))
    return ruleset, Noticing(ruleset), list(mutants(ruleset))


def _noticed(told: tuple[str, int]) -> tuple[int, bool]:
    folder, number = told
    _, noticing, all_mutants = _setting(folder)
    return number, noticing.case_for(all_mutants[number]) is not None


def _unnoticed(folder: str, chosen: Sequence[int]) -> list[int]:
    found: list[int] = []
    told = [(folder, number) for number in chosen]
    with multiprocessing.Pool() as pool, progress_on_stderr("mutants") as advance:
        outcomes = pool.imap_unordered(_noticed, told, chunksize=16)
        for done, (number, noticed) in enumerate(outcomes, start=1):
            if not noticed:
                found.append(number)
            advance(done, len(chosen))
    return sorted(found)


def _without_difference(ruleset: RuleSet, unnoticed: Sequence[Mutant]) -> list[Mutant]:
    sameness = Sameness(ruleset)
    found: list[Mutant] = []
    with progress_on_stderr("proofs") as advance:
        for done, mutant in enumerate(unnoticed, start=1):
            if sameness.proved(mutant):
                found.append(mutant)
            advance(done, len(unnoticed))
    return found


def _write_cases(path: Path, ruleset: RuleSet, unnoticed: Sequence[Mutant]) -> None:
    witnesses = Witnesses(ruleset)
    cases = []
    with progress_on_stderr("cars") as advance:
        for done, mutant in enumerate(unnoticed, start=1):
            case = witnesses.case(mutant)
            if case is not None:
                cases.append(case)
            advance(done, len(unnoticed))
    path.write_text(cases_yaml(cases), "utf-8")
    print(f"{len(cases)} cars for {len(unnoticed)} unnoticed mutants written to {path}")


def _lines(found: Sequence[Mutant]) -> str:
    return "".join(f"{mutant.name}\n" for mutant in found)


def main(args: Sequence[str] | None = None) -> int:
    """Show mutants to the worked cases and print what they do not notice."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    parser.add_argument("--ruleset", default=str(supplied_ruleset_folder()), metavar="FOLDER")
    parser.add_argument("--rule", help="only the mutants of this rule")
    parser.add_argument("--every", type=int, default=1, help="only every so manieth mutant")
    parser.add_argument("--write", action="store_true", help="keep the two lists beside the tests")
    parser.add_argument("--cases", type=Path, metavar="FILE", help="write cars for the unnoticed")
    options = parser.parse_args(args)
    if options.write and (options.rule or options.every > 1):
        parser.error("--write keeps what came of all mutants: leave out --rule and --every")
    ruleset, _, all_mutants = _setting(options.ruleset)
    chosen = [
        number
        for number, mutant in enumerate(all_mutants)
        if options.rule in (None, mutant.rule) and number % options.every == 0
    ]
    missed = [all_mutants[number] for number in _unnoticed(options.ruleset, chosen)]
    same = _without_difference(ruleset, missed)
    unnoticed = [mutant for mutant in missed if mutant not in same]
    share = _print_shares([all_mutants[number] for number in chosen], same, unnoticed)
    print(_lines(unnoticed), end="")
    if options.write:
        UNNOTICED.write_text(_lines(unnoticed), "utf-8")
        NO_DIFFERENCE.write_text(_lines(same), "utf-8")
    if options.cases:
        _write_cases(options.cases, ruleset, unnoticed)
    return 0 if share >= WANTED else 1


def _print_shares(
    chosen: Sequence[Mutant], same: Sequence[Mutant], unnoticed: Sequence[Mutant]
) -> float:
    """Print what came of each kind, and give the share noticed of those that make a difference."""
    kinds = Counter(mutant.kind for mutant in chosen)
    idle = Counter(mutant.kind for mutant in same)
    missed = Counter(mutant.kind for mutant in unnoticed)
    print(f"{'':20} {'count':>6} {'same':>6} {'missed':>6}  noticed")
    for kind, count in (*sorted(kinds.items()), ("in all", len(chosen))):
        in_all = kind == "in all"
        without = len(same) if in_all else idle[kind]
        unseen = len(unnoticed) if in_all else missed[kind]
        share = 1 - unseen / (count - without) if count > without else 1.0
        print(f"{kind:20} {count:6} {without:6} {unseen:6} {share:8.1%}")
    return share


if __name__ == "__main__":
    sys.exit(main())
