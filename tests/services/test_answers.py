"""Asking a calculation: the answer carries inputs, outcome and dataset, and what is raised goes through."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any, NoReturn

import pytest

from alloyref.domain.calculation import Outcome
from alloyref.domain.errors import NotAvailable
from alloyref.domain.mass import MASS, MassInputs
from alloyref.domain.reference import Reference
from alloyref.services.calculations import CALCULATIONS, answer


def test_names_are_their_own() -> None:
    assert all(name == one.name for name, one in CALCULATIONS.items())
    assert {"mass", "purity", "transfer", "order"} <= set(CALCULATIONS)


def test_an_answer_holds_what_was_asked_and_on_which_data(reference: Reference) -> None:
    inputs = MassInputs(Decimal(1), from_="ozt", to="g")
    found = answer(MASS, inputs, reference)
    assert (found.calculation, found.inputs, found.dataset) == (MASS, inputs, reference.dataset)
    assert str(found.outcome.result.mass[0]) == "31.1034768"


def test_a_calculation_sees_the_very_inputs_and_data(reference: Reference) -> None:
    seen: list[Any] = []

    def fake(inputs: Any, data: Reference) -> Outcome:
        seen.extend((inputs, data))
        return Outcome("done")

    found = answer(replace(MASS, run=fake), "asked", reference)
    assert seen == ["asked", reference]
    assert found.outcome.result == "done"


def test_what_it_raises_goes_through(reference: Reference) -> None:
    def fails(*_: Any) -> NoReturn:
        raise NotAvailable

    with pytest.raises(NotAvailable):
        answer(replace(MASS, run=fails), None, reference)
