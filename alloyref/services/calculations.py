"""Every calculation the service offers, and asking one of them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from alloyref.domain.alter_fineness import ALTER_FINENESS
from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.charge import CHARGE
from alloyref.domain.contents import CONTENTS
from alloyref.domain.density_test import DENSITY_TEST
from alloyref.domain.estimate_alloy import ESTIMATE
from alloyref.domain.marks import MARK_CHECK
from alloyref.domain.mass import MASS
from alloyref.domain.metal_notes import metal_notes
from alloyref.domain.order import ORDER
from alloyref.domain.purity import PURITY
from alloyref.domain.recovery import RECOVERY
from alloyref.domain.reference import DatasetVersion, Reference
from alloyref.domain.ring import RING
from alloyref.domain.stock import STOCK
from alloyref.domain.transfer import TRANSFER

CALCULATIONS: dict[str, Calculation] = {
    one.name: one
    for one in (
        MASS,
        PURITY,
        TRANSFER,
        STOCK,
        RING,
        ORDER,
        RECOVERY,
        ESTIMATE,
        DENSITY_TEST,
        ALTER_FINENESS,
        MARK_CHECK,
        CHARGE,
        CONTENTS,
    )
}


@dataclass(frozen=True, slots=True)
class Answer:
    """A calculation's outcome with the inputs as understood and the data it rests on."""

    calculation: Calculation
    inputs: Any
    outcome: Outcome
    dataset: DatasetVersion


def answer(calculation: Calculation, inputs: Any, reference: Reference) -> Answer:
    """Ask a calculation; what it raises goes through unchanged. What is to be said of its metals goes first."""
    outcome = calculation.run(inputs, reference)
    notes = metal_notes(inputs, reference)
    if notes:
        outcome = replace(outcome, assumptions=(*notes, *outcome.assumptions))
    return Answer(calculation, inputs, outcome, reference.dataset)
