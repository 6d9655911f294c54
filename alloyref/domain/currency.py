"""Currencies as people write them: a code in any case, or a sign that stands for one currency only."""

from __future__ import annotations

import re

from alloyref.domain.errors import InvalidInput

CODE = re.compile(r"[A-Za-z]{3}", re.ASCII)
SIGNS = {"€": "EUR", "₹": "INR", "US$": "USD", "C$": "CAD", "CA$": "CAD", "A$": "AUD", "AU$": "AUD", "NZ$": "NZD"}
SHARED = {
    "$": ("USD", "CAD", "AUD", "NZD", "HKD", "SGD", "MXN"),
    "£": ("GBP", "EGP"),
    "¥": ("JPY", "CNY"),
    "kr": ("SEK", "NOK", "DKK"),
    "rs": ("INR", "PKR", "LKR"),
}
"""Signs of several currencies, those met most first (common practice, no source)."""
SAYS = "a currency as three letters, such as EUR"


def currency_of(text: str) -> str:
    """The code (ISO 4217) of a currency; `InvalidInput` where the sign has more than one, with these to choose from.

    >>> currency_of("usd"), currency_of("€")
    ('USD', 'EUR')
    """
    written = text.strip()
    if CODE.fullmatch(written):
        return written.upper()
    if written in SIGNS:
        return SIGNS[written]
    codes = SHARED.get(written.casefold())
    if codes is None:
        raise InvalidInput.of("wrong-form", f"Write {SAYS}.")
    named = f"{', '.join(codes[:-1])} or {codes[-1]}"
    raise InvalidInput.of("currency-ambiguous", f"{written!r} could be {named}: write its three letters.", "", codes)
