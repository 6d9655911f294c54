"""The shape of docstrings: everything public is explained, and a calculation says its units and its checks."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import re
from collections.abc import Iterator
from types import ModuleType

import pytest

import alloyref.domain
from alloyref.domain.calculation import Calculation
from alloyref.services.calculations import CALCULATIONS

UNITS = re.compile(r"\b(g|mm|cm3|g/cm3|C|permille|karat|percent|fraction|unit|scale)\b")
WARRANTY = re.compile(r"\b(Raises|Check|Checks|Equation|Reference|References)\b")


def modules() -> list[ModuleType]:
    """Every module of the domain."""
    found = [alloyref.domain]
    for one in pkgutil.walk_packages(alloyref.domain.__path__, "alloyref.domain."):
        found.append(importlib.import_module(one.name))
    return found


def members(module: ModuleType) -> Iterator[tuple[str, object]]:
    """The public functions and classes of a module, and the public methods and properties of its classes."""
    for name, value in vars(module).items():
        if name.startswith("_") or getattr(value, "__module__", None) != module.__name__:
            continue
        if inspect.isfunction(value):
            yield f"{module.__name__}.{name}", value
        if inspect.isclass(value):
            yield f"{module.__name__}.{name}", value
            for inner, method in vars(value).items():
                made_here = inspect.isfunction(method) or isinstance(method, (property, classmethod, staticmethod))
                if made_here and not inner.startswith("_"):
                    yield f"{module.__name__}.{name}.{inner}", method


MODULES = modules()
MEMBERS = [pair for module in MODULES for pair in members(module)]


@pytest.mark.parametrize("module", MODULES, ids=lambda one: one.__name__)
def test_a_module_says_what_it_is(module: ModuleType) -> None:
    assert module.__doc__
    assert module.__doc__.strip().split("\n")[0].endswith((".", ":", ",")) or "\n" in module.__doc__.strip()


def test_there_is_something_to_test() -> None:
    assert len(MODULES) > 15
    assert len(MEMBERS) > 100


@pytest.mark.parametrize("member", [one for _, one in MEMBERS], ids=[name for name, _ in MEMBERS])
def test_everything_public_is_explained(member: object) -> None:
    doc = inspect.getdoc(member)
    assert doc
    # The signature that a dataclass makes for itself explains nothing.
    assert not re.match(r"^[A-Z]\w*\(.*\)$", doc, re.DOTALL)
    first = doc.split("\n\n")[0]
    assert first.endswith((".", ":", ")", ";")) or "\n\n" in doc
    assert first[0].isupper() or first[0] in "`\"'"


@pytest.mark.parametrize("calculation", CALCULATIONS.values(), ids=CALCULATIONS)
def test_a_calculation_says_its_units_and_its_checks(calculation: Calculation) -> None:
    doc = inspect.getdoc(calculation.run)
    assert doc
    assert len(doc.split("\n\n")) >= 2
    assert UNITS.search(doc)
    assert WARRANTY.search(doc)
