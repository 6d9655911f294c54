"""Currencies as people write them."""

from __future__ import annotations

import pytest

from alloyref.domain.currency import SHARED, SIGNS, currency_of
from alloyref.domain.errors import InvalidInput


@pytest.mark.parametrize(
    ("text", "code"), [("EUR", "EUR"), ("usd", "USD"), (" Gbp ", "GBP"), ("€", "EUR"), ("US$", "USD"), ("A$", "AUD")]
)
def test_a_code_in_any_letters_and_a_sign_of_one_currency(text: str, code: str) -> None:
    assert currency_of(text) == code


@pytest.mark.parametrize("sign", ["$", "£", "¥", "kr", "Rs"])
def test_a_sign_of_several_is_refused_with_these(sign: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        currency_of(sign)
    (issue,) = refused.value.issues
    assert issue.code == "currency-ambiguous"
    assert len(issue.suggestions) > 1
    assert all(code in issue.detail and currency_of(code) == code for code in issue.suggestions)


@pytest.mark.parametrize("text", ["", "EURO", "12", "E R", "ÄÖÜ", "€€"])
def test_what_is_no_currency_is_told_how_to_write_it(text: str) -> None:
    with pytest.raises(InvalidInput, match="three letters, such as EUR"):
        currency_of(text)


def test_no_sign_means_both_one_and_several() -> None:
    assert not {sign.casefold() for sign in SIGNS} & set(SHARED)
