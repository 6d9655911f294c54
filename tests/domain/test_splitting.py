"""Two assays of one lot: the mean within the splitting limit, an umpire beyond it."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.recovery import RECOVERY

Ask = Callable[[Calculation, dict[str, Any]], Outcome]


@pytest.fixture
def split(ask: Ask) -> Callable[..., tuple[Decimal, Decimal, str]]:
    """The payable gold of 100 g, low and high, with what is said of it."""

    def asked(ours: str, theirs: str, umpire: str | None = None, **offer: Any) -> tuple[Decimal, Decimal, str]:
        pays = {"metal": "Au", "paid": 1, **{key: offer.pop(key) for key in ("split_limit",) if key in offer}}
        lot: dict[str, Any] = {"mass": "100 g", "assay": {"Au": ours}, "their_assay": {"Au": theirs}}
        if umpire is not None:
            lot["umpire_assay"] = {"Au": umpire}
        terms = {"name": "exchange", "pays": [pays], "rounding": "none", **offer}
        (one,) = ask(RECOVERY, {"lots": [lot], "terms": [terms]}).result.settlements[0].lots
        return one.metals[0].payable.low, one.metals[0].payable.high, " ".join(one.notes)

    return asked


@pytest.mark.parametrize(
    "case",
    [
        ("585", "583", None, "middle", "58.4"),
        ("585", "583", "570", "middle", "58.4"),
        ("585", "581", "584", "middle", "58.4"),
        ("585", "581", "590", "middle", "58.5"),
        ("585", "581", "579", "middle", "58.1"),
        ("585", "581", "584", "nearest-two", "58.45"),
        ("585", "581", "579", "nearest-two", "58.0"),
        ("585", "581", "583", "nearest-two", "58.3"),
    ],
    ids=str,
)
def test_what_settles(split: Callable[..., Any], case: tuple[str, str, str | None, str, str]) -> None:
    """Limit 2 permille; the umpire's assay counts only beyond it."""
    ours, theirs, umpire, rule, settled = case
    low, high, _ = split(ours, theirs, umpire, split_limit="2", umpire_rule=rule)
    assert low == high == Decimal(settled)


@pytest.mark.parametrize("limit", [None, "2"])
def test_beyond_the_limit_without_an_umpire_it_is_a_range(split: Callable[..., Any], limit: str | None) -> None:
    low, high, says = split("585", "580", **({} if limit is None else {"split_limit": limit}))
    assert (low, high) == (58, Decimal("58.5"))
    assert "umpire must assay" in says


def test_a_refiners_assay_alone_settles(ask: Ask) -> None:
    lot = {"mass": "100 g", "metal": "gold-585-yellow", "their_assay": {"Au": 580}}
    terms = {"name": "theirs", "pays": [{"metal": "Au", "paid": 1}], "rounding": "none"}
    result = ask(RECOVERY, {"lots": [lot], "terms": [terms]}).result
    assert result.settlements[0].lots[0].metals[0].payable.value == 58
    assert (result.lots[0].recovery_low, result.lots[0].recovery_high) == (1, 1)
