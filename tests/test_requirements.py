"""The ranges of versions in pyproject.toml: each ends somewhere, and admits what is installed and tested with."""

from __future__ import annotations

import tomllib
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import pytest
from packaging.requirements import Requirement

DECLARED = tomllib.loads((Path(__file__).parents[1] / "pyproject.toml").read_text(encoding="utf-8"))
PROJECT = DECLARED["project"]
LISTS = [DECLARED["build-system"]["requires"], PROJECT["dependencies"], *PROJECT["optional-dependencies"].values()]
WANTED = sorted({line for lines in LISTS for line in lines if not line.startswith("alloyref")})


@pytest.mark.parametrize("line", WANTED)
def test_a_range_has_both_ends_and_admits_what_is_installed(line: str) -> None:
    wanted = Requirement(line)
    ends = {one.operator for one in wanted.specifier}
    assert {">=", "<"} <= ends, f"{line}: a later release could break an install"
    try:
        installed = version(wanted.name)
    except PackageNotFoundError:
        pytest.skip(f"{wanted.name} is not installed")
    assert wanted.specifier.contains(installed, prereleases=True), f"{line}: {installed} is installed"


def test_one_package_has_one_range() -> None:
    ranges: dict[str, set[str]] = {}
    for wanted in map(Requirement, WANTED):
        ranges.setdefault(wanted.name, set()).add(str(wanted.specifier))
    assert [name for name, known in ranges.items() if len(known) > 1] == []
