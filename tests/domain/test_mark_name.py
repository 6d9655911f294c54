"""Marks as they are struck: what is read, and what is refused with the mark that was probably meant."""

from __future__ import annotations

from decimal import Decimal

import pytest

from alloyref.domain.errors import InvalidInput
from alloyref.domain.mark_name import parse_mark

READ = [
    (585, "585", "", ""),
    ("585", "585", "", ""),
    (" .583 ", "583", "", ""),
    (Decimal("0.750"), "750", "", ""),
    ("958.4", "958.4", "", ""),
    ("18K", "750", "18K", "gold"),
    ("18 k", "750", "18K", "gold"),
    ("18KT", "750", "18K", "gold"),
    ("18 karat", "750", "18K", "gold"),
    ("18K gold", "750", "18K", "gold"),
    ("18ct", "750", "18K", "gold"),
    ("18 carat", "750", "18K", "gold"),
    ("18 ct gold", "750", "18K", "gold"),
    ("Sterling", "925", "sterling", "silver"),
    ("sterling silver", "925", "sterling", "silver"),
    ("coin", "900", "coin", "silver"),
    ("Pt950", "950", "", "platinum"),
    ("950 platinum", "950", "", "platinum"),
    ("Ag 800", "800", "", "silver"),
    ("500 Pd", "500", "", "palladium"),
    ("925‰", "925", "", ""),
]


@pytest.mark.parametrize(("given", "permille", "word", "metal"), READ)
def test_a_mark_is_read(given: object, permille: str, word: str, metal: str) -> None:
    mark = parse_mark(given)
    assert (mark.permille, mark.word, mark.metal) == (Decimal(permille), word, metal)
    assert parse_mark(mark.text) == mark


@pytest.mark.parametrize(
    ("given", "code", "suggestion"),
    [
        ("25ct", "out-of-range", "24K"),
        (14, "out-of-range", "14K"),
        ("58.5", "out-of-range", "585"),
        ("25K", "out-of-range", "24K"),
        ("1001", "out-of-range", None),
        ("14K silver", "karat-of-gold", None),
        ("gold", "unknown-mark", "585"),
        ("", "not-a-mark", None),
        ("5" * 31, "not-a-mark", None),
        (True, "not-a-mark", None),
        (None, "not-a-mark", None),
        ("5.8.5", "unknown-mark", None),
        ("-585", "unknown-mark", None),
        ("1e3", "unknown-mark", None),
        (float("nan"), "not-a-number", None),
    ],
)
def test_a_mark_is_refused(given: object, code: str, suggestion: str | None) -> None:
    with pytest.raises(InvalidInput) as caught:
        parse_mark(given)
    (issue,) = caught.value.issues
    assert issue.code == code
    assert suggestion is None or suggestion in issue.suggestions
