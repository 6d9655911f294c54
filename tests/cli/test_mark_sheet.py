"""The printed check of a mark says what the answer says."""

from __future__ import annotations

import json
from collections.abc import Callable

import pytest
from click.testing import Result

from alloyref.cli.layout import words

Run = Callable[..., Result]
ASKED = ("mark-check", "--assay", "577", "--part-assay", "581", "--soldered", "true", "--mark", "14K")


@pytest.mark.parametrize("place", [("--jurisdiction", "US"), ()])
def test_each_rule_stands_with_its_verdict_article_and_source(run: Run, place: tuple[str, ...]) -> None:
    text = run(*ASKED, *place).stdout
    result = json.loads(run(*ASKED, *place, "--json").stdout)["result"]
    for one in result["jurisdictions"]:
        assert f"{one['jurisdiction'].upper()}: {words(one['verdict']).upper()}" in text
        for rule in one["rules"]:
            assert f"{words(rule['verdict'])}, {words(rule['tests'])}: {rule['says']}" in text
            assert rule["article"] in text
            assert rule["source"] in text
        for highest in one["highest"]:
            assert highest["mark"] in text
            assert highest["provided"] in text
    for limit in result["limits"]:
        assert limit["says"] in text
    assert all(note in text for note in result["notes"])


def test_what_passes_by_a_tolerance_alone_is_called_that(run: Run) -> None:
    assert "only by the tolerance" in run(*ASKED, "--jurisdiction", "US").stdout
    plain = run("mark-check", "--assay", "590", "--mark", "14K", "--jurisdiction", "US").stdout
    assert "US: MEETS" in plain
    assert "only by the tolerance" not in plain


def test_without_a_mark_only_the_highest_is_told(run: Run) -> None:
    text = run("mark-check", "--metal", "sterling-silver", "--jurisdiction", "UK").stdout
    assert "what may it be marked?" in text
    assert "925 (sterling)" in text
    assert "the solder holds at least 650" in text
