"""One request misspells thousands of names: only so many are searched for, however it brings them."""

from __future__ import annotations

from difflib import get_close_matches
from typing import Any

import pytest
from flask.testing import FlaskClient

from alloyref.domain.order import ORDER
from alloyref.domain.searches import MOST_AT_ONCE


@pytest.fixture
def made(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What was searched for."""
    searched: list[str] = []

    def noted(word: str, *given: Any, **options: Any) -> Any:
        searched.append(word)
        return get_close_matches(word, *given, **options)

    monkeypatch.setattr("alloyref.domain.errors.get_close_matches", noted)
    return searched


def test_of_many_misspelt_units_only_the_first_are_searched_for(client: FlaskClient, made: list[str]) -> None:
    stones = [{"mass": f"1 grm{number}"} for number in range(100)]
    others = [{"volume": "1 cm3", "stones": stones} for _ in range(3)]
    others += [{"volume": f"1 cmm{number}", "stones": []} for number in range(50)]
    for _ in range(2):
        made.clear()
        answer = client.post("/v1/order", json={**ORDER.example, "others": others})
        assert answer.status_code == 422
        assert len(made) == MOST_AT_ONCE
    assert answer.json is not None
    first = answer.json["errors"][0]
    assert "Did you mean" in first["detail"]
    assert first["suggestions"]


def test_of_many_misspelt_parameters_only_the_first_are_searched_for(client: FlaskClient, made: list[str]) -> None:
    query = "&".join(f"kaart{number}=14" for number in range(300))
    answer = client.get(f"/v1/alloys?{query}")
    assert answer.status_code == 422
    assert len(made) == MOST_AT_ONCE
