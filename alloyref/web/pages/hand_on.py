"""What comes back from an order as the lots of a recovery: one form's answer filled into another form."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from alloyref.domain.figures import as_asked, number
from alloyref.domain.sheet_words import composition_line, stones_in_trial
from alloyref.web.pages.form import at

Fields = list[tuple[str, str]]
TRIAL = "the trial"


def returns(answer: Mapping[str, Any], data: Mapping[str, Any]) -> Fields:
    """The fields of the recovery form that an order's returns, and the prices it was reckoned at, fill in.

    >>> lot = {"kind": "lemel", "metal": "fine-gold", "mass": {"value": 0.4, "unit": "g"}}
    >>> returns({"inputs": {"final_metal": {"id": "fine-gold"}}, "result": {"returns": {"items": [lot]}}}, {})[2:]
    [('/lots/0/mass', '0.4 g'), ('/lots/0/metal', 'fine-gold')]
    """
    named = answer["inputs"]["final_metal"]["id"]
    lots = [
        {
            "name": lot["kind"].replace("-", " "),
            "kind": lot["kind"],
            "mass": as_asked(lot["mass"]),
            **({"metal": lot["metal"]} if named else {"composition": composition_line(lot["composition"])}),
        }
        for lot in answer["result"]["returns"]["items"]
    ]
    return [*_rows("/lots", lots), *_rows("/prices", at(data, "/prices") or [])]


def trial(answer: Mapping[str, Any], data: Mapping[str, Any], row: int) -> Fields:
    """The fields that send the trial casting along, as weighed, as the lot of that row; none without a trial.

    The stones that were weighed with it are no silver, so they go along as other matter, which is taken off.
    """
    metal, mass = at(data, "/trial/metal"), at(data, "/trial/mass")
    if not (metal and mass):
        return []
    lot = {"name": TRIAL, "kind": "trial-casting", "mass": mass, "metal": metal}
    if stones := stones_in_trial(answer["inputs"]):
        lot["other_matter"] = f"{number(stones)} g"
    return [(f"/lots/{row}/{name}", value) for name, value in lot.items()]


def _rows(pointer: str, rows: Sequence[Mapping[str, str]]) -> Fields:
    return [(f"{pointer}/{at_}/{name}", value) for at_, row in enumerate(rows) for name, value in row.items()]
