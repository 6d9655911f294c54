"""The whole charge: from lots, shelf and target to a recipe that can be weighed, or to why there is none."""

from __future__ import annotations

from decimal import Decimal

from alloyref.domain.calculation import Assumption, Calculation, Outcome
from alloyref.domain.charge.answer import impossible, leaving_out, possible
from alloyref.domain.charge.inputs import ChargeInputs
from alloyref.domain.charge.problem import Understood, understood
from alloyref.domain.charge.quotes import of_its_elements, quoted
from alloyref.domain.charge.results import ChargeResult
from alloyref.domain.charge.solve import FIRM_WEIGHT, WINDOW_WEIGHT, SearchTime
from alloyref.domain.charge.windows import tolerances
from alloyref.domain.fineness import (
    FINE_IS_PURE,
    KARAT,
    KARAT_BY_ARITHMETIC,
    NOTHING_BURNS_OFF,
)
from alloyref.domain.numbers import plain, round_to
from alloyref.domain.provenance import Property, Status
from alloyref.domain.reference import Reference


def charge(inputs: ChargeInputs, reference: Reference) -> Outcome:
    """The least-cost recipe in g for a charge, as a balance can weigh it; or the least change that allows one.

    Minimise sum(c_i x_i) with x_i whole steps of the balance (or all of a lot), 0 <= x_i <= available, sum(x_i) at
    least the mass and less than a step more, and for each element of share w_i the window
    least <= sum(w_i x_i)/sum(x_i) <= most: an integer programme, and a linear one that bounds what it leaves out.
    Checks: a recipe that is given keeps every limit in exact arithmetic. Raises `InvalidInput` for a contradiction in
    the question. A mark is planned at its full fineness.
    Reference: blending as a linear programme; solved by HiGHS.
    """
    inputs = of_its_elements(inputs, reference)
    inputs, missing = quoted(inputs, reference)
    time = SearchTime()
    for tolerance in tolerances(inputs, reference):
        read = understood(inputs, reference, tolerance)
        asked = read.asked(inputs, time)
        solution = asked.solved()
        if solution.found is not None:
            break
    assumed = _assumptions(inputs, read, tolerance)
    if solution.best is None or solution.found is None:
        return Outcome(impossible(read, asked, solution.best), (*assumed, LEAST_CHANGE), answered=False)
    used = [one for one, mass in zip(read.problem.items, solution.found.masses, strict=True) if mass]
    result = leaving_out(
        possible(inputs, read, asked, solution, reference),
        {one.id: missing[one.pointer] for one in used if one.pointer in missing},
    )
    cautions = reference.cautions_for([one.metal for one in used], "step:melting")
    return Outcome(result, (*assumed, TRIED, NOTHING_BURNS_OFF), cautions)


def _assumptions(inputs: ChargeInputs, read: Understood, tolerance: Decimal) -> tuple[Assumption, ...]:
    """What the recipe rests on beyond what was given."""
    target = inputs.target
    assumed = []
    if target.fineness is not None and target.fineness.scale == KARAT:
        assumed.append(KARAT_BY_ARITHMETIC)
    if read.planned is not None:
        assumed.append(read.planned.assumption)
    if target.alloy is not None:
        assumed.append(_alloy_windows(round_to(tolerance, 4), target.alloy.name))
    if any(one.shelf and len(one.metal.composition.parts) == 1 for one in read.problem.items):
        assumed.append(FINE_IS_PURE)
    return tuple(assumed)


def _alloy_windows(tolerance: Decimal, name: str) -> Assumption:
    text = (
        f"Windows are the shares of {name}, {plain(tolerance)} permille either way; the metal it is "
        "marked for never below its own share, and elements that are not in it not at all."
    )
    basis = Property(tolerance, "permille", tolerance, tolerance, Status.COMMON_PRACTICE, "common-practice")
    return Assumption("alloy-windows", text, basis)


TRIED = Assumption(
    "limits-tried",
    "What a limit saves was tried: that limit alone was moved by what is said, and the charge worked out again in "
    "steps of the balance. Twice the room need not save twice as much.",
    Property(Decimal(0), "1", Decimal(0), Decimal(0), Status.CALCULATED, "definition"),
)
LEAST_CHANGE = Assumption(
    "least-change",
    f"The least change counts each gram by which limits move: {WINDOW_WEIGHT:g} times for windows and shares, once "
    "for amounts and mass; marks and elements to be kept out give way only if nothing else does.",
    Property(Decimal(10), "1", Decimal(1), Decimal(int(FIRM_WEIGHT)), Status.CALCULATED, "definition"),
)

CHARGE = Calculation(
    name="charge",
    title="A charge at least cost",
    doc="From lots and shelf metals to the cheapest lawful recipe that can be weighed, or to what stands in its way.",
    inputs=ChargeInputs,
    result=ChargeResult,
    run=charge,
    searches=True,
    example={
        "target": {"mass": "60 g", "alloy": "gold-585-yellow", "mark": 585, "jurisdiction": "UK", "free_of": "Ni"},
        "lots": [
            {"id": "sprues", "mass": "42.6 g", "metal": "gold-585-yellow", "price": "57.10"},
            {
                "id": "old rings",
                "mass": "18.35 g",
                "metal": {"composition": {"Au": 417, "Ag": 110, "Cu": 473}},
                "price": "39.80",
            },
        ],
        "shelf": [
            {"metal": "Au", "price": "104.50"},
            {"metal": "Ag", "price": "1.42"},
            {"metal": "Cu", "price": "0.02"},
        ],
        "max_scrap_share": 0.5,
        "currency": "EUR",
    },
)
