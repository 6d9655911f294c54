"""Laws of rounding: by fractions, rounded once, on the side that was asked for."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from hypothesis import example, given, settings
from hypothesis import strategies as st

from alloyref.domain.numbers import Rounding, fraction_to_decimal, parse_decimal, plain, round_to

LAW = settings(max_examples=150, derandomize=True, deadline=None)
places = st.integers(0, 12)
positive = st.fractions(min_value=0, max_value=10**12, max_denominator=10**12)
signed = st.fractions(min_value=-(10**9), max_value=10**9, max_denominator=10**9)
written = st.decimals(allow_nan=False, allow_infinity=False, min_value=0, max_value=10**12, places=14)


def step_of(decimals: int) -> Fraction:
    """One in the last place."""
    return Fraction(1, 10**decimals)


@LAW
@given(value=positive, decimals=places)
def test_down_is_never_above_and_up_never_below(value: Fraction, decimals: int) -> None:
    down = Fraction(fraction_to_decimal(value, decimals, Rounding.DOWN))
    up = Fraction(fraction_to_decimal(value, decimals, Rounding.UP))
    assert down <= value <= up
    assert up - down in (0, step_of(decimals))
    assert (up == down) == ((value / step_of(decimals)).denominator == 1)


@LAW
@given(value=signed, decimals=places)
def test_half_even_is_within_half_a_step(value: Fraction, decimals: int) -> None:
    nearest = Fraction(fraction_to_decimal(value, decimals))
    assert abs(nearest - value) <= step_of(decimals) / 2
    assert (nearest / step_of(decimals)).denominator == 1


@LAW
@given(whole=st.integers(-(10**9), 10**9), decimals=places)
def test_a_tie_goes_to_the_even_digit(whole: int, decimals: int) -> None:
    tie = (Fraction(whole) + Fraction(1, 2)) * step_of(decimals)
    chosen = Fraction(fraction_to_decimal(tie, decimals)) / step_of(decimals)
    assert chosen in (whole, whole + 1)
    assert chosen % 2 == 0


@LAW
@given(value=written, decimals=places, rounding=st.sampled_from(Rounding))
def test_decimals_and_fractions_round_alike(value: Decimal, decimals: int, rounding: Rounding) -> None:
    assert round_to(value, decimals, rounding) == fraction_to_decimal(Fraction(value), decimals, rounding)


@LAW
@given(value=signed, decimals=places, rounding=st.sampled_from(Rounding))
def test_negative_numbers_round_alike_too(value: Fraction, decimals: int, rounding: Rounding) -> None:
    """Ending decimals of either sign, so that both ways can be asked."""
    ending = Fraction(round(value * 10**14), 10**14)
    by_decimal = round_to(Decimal(ending.numerator) / Decimal(ending.denominator), decimals, rounding)
    assert by_decimal == fraction_to_decimal(ending, decimals, rounding)


@LAW
@given(value=written, decimals=places, rounding=st.sampled_from(Rounding))
def test_rounding_twice_changes_nothing(value: Decimal, decimals: int, rounding: Rounding) -> None:
    once = round_to(value, decimals, rounding)
    assert round_to(once, decimals, rounding) == once
    assert -once.as_tuple().exponent == decimals


@LAW
@given(small=positive, large=positive, decimals=places, rounding=st.sampled_from(Rounding))
def test_rounding_keeps_order(small: Fraction, large: Fraction, decimals: int, rounding: Rounding) -> None:
    small, large = sorted((small, large))
    assert fraction_to_decimal(small, decimals, rounding) <= fraction_to_decimal(large, decimals, rounding)


@LAW
@given(whole=st.integers(-(10**20), 10**20), twos=st.integers(0, 12), fives=st.integers(0, 12))
def test_an_ending_decimal_is_given_exactly(whole: int, twos: int, fives: int) -> None:
    value = Fraction(whole, 2**twos * 5**fives)
    assert Fraction(fraction_to_decimal(value, None)) == value


@LAW
@given(whole=st.integers(0, 10**12), denominator=st.integers(1, 10**6))
def test_any_other_has_fifteen_digits(whole: int, denominator: int) -> None:
    value = Fraction(3 * whole + 1, 3 * denominator)
    given_digits = fraction_to_decimal(value, None)
    assert abs(Fraction(given_digits) - value) <= value * Fraction(5, 10**15)
    assert len(given_digits.as_tuple().digits) <= 16


@LAW
@given(value=st.decimals(allow_nan=False, allow_infinity=False, min_value=-(10**12), max_value=10**12, places=9))
@example(Decimal("-0.00"))
@example(Decimal("-0"))
@example(Decimal("1E+3"))
@example(Decimal("-10.500"))
def test_the_plain_form_reads_back(value: Decimal) -> None:
    """And shows no exponent, no idle zero and no minus before a zero."""
    text = plain(value)
    assert parse_decimal(text) == value
    assert "e" not in text.lower()
    assert text != "-0"
    assert "." not in text or not text.endswith(("0", "."))


@LAW
@given(digits=st.integers(1, 10**9), exponent=st.integers(-20, 20))
def test_the_plain_form_of_an_exponent(digits: int, exponent: int) -> None:
    value = Decimal(digits).scaleb(exponent)
    assert Fraction(plain(value)) == Fraction(digits) * Fraction(10) ** exponent
