"""Errors that teach: near names, pointers and messages."""

from __future__ import annotations

import pytest

from alloyref.domain.errors import (
    AlloyrefError,
    InvalidInput,
    Issue,
    NotAvailable,
    UnknownName,
    did_you_mean,
    nearest,
)

KNOWN = ["sterling-silver", "fine-gold", "fine-silver", "gold-585-yellow", "gold-750-yellow", "Ag", "Au", "ozt"]


@pytest.mark.parametrize(
    ("name", "best"),
    [
        ("sterlng-silver", "sterling-silver"),
        ("STERLING-SILVER", "sterling-silver"),
        ("sterling silver", "sterling-silver"),
        ("gold-585-yelow", "gold-585-yellow"),
        ("ag", "Ag"),
        ("AU", "Au"),
        ("ozt.", "ozt"),
    ],
)
def test_the_nearest_comes_first(name: str, best: str) -> None:
    assert nearest(name, KNOWN)[0] == best


@pytest.mark.parametrize("name", ["", "zzzzzzzz", "1234567", "\u0000", "€€€€"])
def test_nothing_near_is_nothing(name: str) -> None:
    assert nearest(name, KNOWN) == ()
    assert nearest("fine-gold", []) == ()


def test_only_a_few_are_named() -> None:
    many = [f"gold-{number}" for number in range(50)]
    assert len(nearest("gold-1", many)) == 4
    assert len(nearest("gold-1", many, most=2)) == 2
    assert nearest("gold-7", many)[0] == "gold-7"


def test_a_huge_name_is_no_burden() -> None:
    assert nearest("a" * 1_000_000, [f"{'a' * 70}{number}" for number in range(2000)])


def test_did_you_mean() -> None:
    assert did_you_mean([]) == ""
    assert did_you_mean(["a"]) == " Did you mean a?"
    assert did_you_mean(("a", "b", "c")) == " Did you mean a, b or c?"


def test_an_issue_seen_from_further_out() -> None:
    inner = Issue("missing", "This is needed.", "/unit", ("g",))
    assert inner.under("/trial/mass") == Issue("missing", "This is needed.", "/trial/mass/unit", ("g",))
    assert inner.pointer == "/unit"


def test_an_error_carries_its_issues_and_reads_as_a_sentence() -> None:
    error = InvalidInput(Issue("a", "First."), Issue("b", "Second.", "/x"))
    assert str(error) == "First.; Second."
    assert [issue.code for issue in error.issues] == ["a", "b"]
    one = InvalidInput.of("c", "Third.", "/y", iter(["s"]))
    assert one.issues == (Issue("c", "Third.", "/y", ("s",)),)
    assert all(issubclass(kind, AlloyrefError) for kind in (InvalidInput, UnknownName, NotAvailable))


def test_an_unknown_name_is_quoted_short_with_near_ones() -> None:
    error = UnknownName.of("alloy", "sterlng-silver", KNOWN)
    assert error.issues[0].code == "unknown-alloy"
    assert error.issues[0].suggestions[0] == "sterling-silver"
    assert "'sterlng-silver'" in str(error)
    assert len(str(UnknownName.of("alloy", "x" * 10_000, []))) < 200
