"""What proofs find, and the cars that show it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from engine.errors import Place
from engine.facts import JobFacts, Told
from engine.ruleset.shop_model import Reviewed


@dataclass(frozen=True, slots=True)
class Witness:
    """A car with one panel that shows a finding; the evaluator said so of it.

    `needed` names the facts without which it would not show it. `treatment` is what the panel
    gets, None where none is settled, `fires` the rules that fire and belong to the finding.
    """

    job: JobFacts
    needed: tuple[str, ...]
    treatment: str | None
    fires: tuple[str, ...] = ()

    def told(self) -> Mapping[str, Mapping[str, Told]]:
        """The facts by sheet: shop, car, panel."""
        (panel,) = self.job.panels.values()
        return {"shop": self.job.shop, "car": self.job.car, "panel": panel}


@dataclass(frozen=True, slots=True)
class ProofFinding:
    """One finding: its code, what was found, the places it lies between, and the car that shows it.

    A rule that can never fire has no car to show; `witness` is then one in which it would fire
    were the limits named in `fix` otherwise, or None.
    """

    code: str
    message: str
    places: tuple[Place, ...]
    names: tuple[str, ...]
    fix: str | None = None
    witness: Witness | None = None
    witness_says: str | None = None

    @property
    def wrong(self) -> bool:
        """Whether it is a fault; a rule that is there only for its reason may be meant so."""
        return self.code not in ("never-matters", "reviewed-in-vain")

    def as_json(self, told: Mapping[str, Any] | None) -> dict[str, Any]:
        """As plain data; `told` are the facts of the witness as they are written."""
        return {
            "code": self.code,
            "severity": "error" if self.wrong else "note",
            "message": self.message,
            "places": [str(place) for place in self.places],
            "names": list(self.names),
            "fix": self.fix,
            "witness": None
            if self.witness is None
            else {
                "says": self.witness_says,
                "told": told,
                "needed": list(self.witness.needed),
                "treatment": self.witness.treatment,
                "fires": list(self.witness.fires),
            },
        }


def in_vain(review: Reviewed) -> ProofFinding:
    """A review to which no finding answers any more."""
    return ProofFinding(
        "reviewed-in-vain",
        f"nothing is found any more of what `{review.finding}` was reviewed for here",
        (review.place,),
        (),
        "Take the entry out.",
    )
