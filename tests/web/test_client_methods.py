"""The client's methods for calculations say what the declarations say; the client itself knows HTTP only."""

from __future__ import annotations

import inspect
import keyword
import textwrap

import pytest

from alloyref.client.calculations import Calculations
from alloyref.client.http import USUAL_ADDRESS
from alloyref.domain.calculation import Calculation, items
from alloyref.services.calculations import CALCULATIONS
from alloyref.settings import Settings

WIDTH = 105


def documented(calculation: Calculation) -> str:
    """The docstring of the method of a calculation, less its indent."""

    def filled(text: str, indent: str = "") -> str:
        return textwrap.fill(text, WIDTH, initial_indent=indent, subsequent_indent=" " * len(indent))

    lines = [filled(f"{calculation.doc} Inputs:"), ""]
    for one in items(calculation.inputs).values():
        name = f"{one.name}_" if keyword.iskeyword(one.name) else one.name
        lines.append(filled(f"{name}: {'' if one.optional else '(needed) '}{one.doc}", "- "))
    lines += ["", filled(f"The result has {', '.join(one.name for one in items(calculation.result).values())}.")]
    return "\n".join(lines)


def methods() -> dict[str, str]:
    """Each method with its docstring."""
    found = inspect.getmembers(Calculations, inspect.isfunction)
    return {name: inspect.getdoc(one) or "" for name, one in found if not name.startswith("_")}


def test_each_calculation_has_its_method_and_there_is_no_other() -> None:
    assert set(methods()) == {name.replace("-", "_") for name in CALCULATIONS}


@pytest.mark.parametrize("name", CALCULATIONS)
def test_a_method_tells_what_goes_in_and_what_comes_out(name: str) -> None:
    # Out of step? What is expected is the docstring to put there.
    assert methods()[name.replace("-", "_")] == documented(CALCULATIONS[name])


def test_the_usual_address_is_where_the_service_listens() -> None:
    usual = Settings()
    assert f"http://{usual.host}:{usual.port}" == USUAL_ADDRESS
