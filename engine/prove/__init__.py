"""Proofs about a rule set: cars left out, rules that contradict each other, rules without effect.

A rule set is written out as logic for an SMT solver (z3), exactly as the evaluator works it out:
three-valued conditions, refused values, facts that do not apply, levels, settling. What the solver
finds is a car; it counts only once the evaluator itself says the same of that car. What it shows
to be impossible is proved for one panel at a time, with reckoned facts as free numbers within what
is known of them; see `Proof.not_proved`.

Needs the extra `prove` (z3-solver).
"""

from engine.prove.proof import Proof, prove
from engine.prove.result import ProofFinding, Witness

__all__ = ["Proof", "ProofFinding", "Witness", "prove"]
