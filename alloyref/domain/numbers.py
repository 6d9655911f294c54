"""Exact decimals: reading them, and rounding them once, at the edge, by a stated rule."""

from __future__ import annotations

import re
from decimal import ROUND_CEILING, ROUND_DOWN, ROUND_HALF_EVEN, Context, Decimal
from enum import StrEnum
from fractions import Fraction
from unicodedata import normalize

from alloyref.domain.errors import InvalidInput

# Fifty digits hold every product this service forms; `prec` is never what rounds an answer.
EXACT = Context(prec=50)
PI = Decimal("3.1415926535897932384626433832795028841971693993751")
MOST_CHARACTERS = 64
"""Room for what answers write: fifty digits, a point, and noughts before them."""
MOST_EXPONENT = 30
LEAST_EXPONENT = -323
"""Below it the numbers that programs reckon with come to an end: most are read as nothing."""
DECIMAL_TEXT = r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?"
_DECIMAL = re.compile(DECIMAL_TEXT, re.ASCII)
POINT, COMMA, EITHER = ".", ",", "either"
"""How whoever asks writes decimals; `EITHER`: not said, so a comma is taken where it can mean nothing else."""
_COMMA = re.compile(r"\s*[+-]?(\d*),(\d+)(?![\d.,])", re.ASCII)
_THREE = 3
_VULGAR = re.compile("[¼½¾⅐-⅞]")
_FRACTION = re.compile(r"(?:(\d{1,9})[ -]+)?(\d{1,4})/(\d{1,4})(?![\d/])", re.ASCII)


class Rounding(StrEnum):
    """How a number is brought to a given number of decimals."""

    HALF_EVEN = "half-even"
    DOWN = "down"
    UP = "up"


STEPS = tuple(Decimal(1).scaleb(-decimals) for decimals in range(31))
"""The unit in each decimal place."""
_MODES = {Rounding.HALF_EVEN: ROUND_HALF_EVEN, Rounding.DOWN: ROUND_DOWN, Rounding.UP: ROUND_CEILING}


def parse_decimal(value: object) -> Decimal:
    """Read a JSON number or a decimal string as an exact decimal.

    A float is read by its shortest printed form, so 4.82 is 4.82 and not its binary neighbour.
    Booleans, NaN, infinities and numbers of absurd length or exponent are refused (`InvalidInput`), among them those
    so small that the nearest float is zero. A negative zero is zero.

    >>> parse_decimal(4.82), parse_decimal("0.50")
    (Decimal('4.82'), Decimal('0.50'))
    """
    if isinstance(value, bool) or not isinstance(value, (int, float, str, Decimal)):
        raise InvalidInput.of("not-a-number", "A number is needed here.")
    text = value.strip() if isinstance(value, str) else repr(value) if isinstance(value, float) else str(value)
    if not _DECIMAL.fullmatch(text):
        detail = f"{text[:MOST_CHARACTERS]!r} is not a plain decimal number.{about_comma(text)}"
        raise InvalidInput.of("not-a-number", detail)
    if len(text) > MOST_CHARACTERS:
        raise InvalidInput.of("number-too-long", f"A number may have at most {MOST_CHARACTERS} characters.")
    number = Decimal(text)
    if number and not _has_size(number):
        raise InvalidInput.of("number-out-of-range", "The number is of an absurd magnitude.")
    return number or number.copy_abs()


def _has_size(number: Decimal) -> bool:
    """Whether it is of a size that something has, and that no reader of the answer takes for nothing."""
    size = number.adjusted()
    return size <= MOST_EXPONENT and (size >= LEAST_EXPONENT or bool(float(number)))


def point_for_comma(text: str, mark: str = COMMA) -> str:
    """The same text with the decimal comma of the number it begins with as a point.

    With `EITHER`, a comma before exactly three digits is refused (`InvalidInput`) where it could part thousands.
    What has several commas, or a point besides, is left as it is: no plain decimal number is written so.

    >>> point_for_comma("4,18 g", EITHER), point_for_comma("1,234 g"), point_for_comma("0,125", EITHER)
    ('4.18 g', '1.234 g', '0.125')
    """
    found = _COMMA.match(text) if mark != POINT else None
    if found is None:
        return text
    whole, decimals = found.groups()
    if mark == EITHER and len(decimals) == _THREE and 1 <= len(whole) <= _THREE and whole[0] != "0":
        raise InvalidInput.of(
            "decimal-ambiguous",
            f"'{whole},{decimals}' could be {whole}.{decimals} or {whole}{decimals}: write it so, "
            "or say that decimals are written with a comma.",
            suggestions=(f"{whole}.{decimals}", f"{whole}{decimals}"),
        )
    at = found.start(2) - 1
    return f"{text[:at]}{POINT}{text[at + 1 :]}"


def with_decimals(text: str) -> str:
    """A quantity whose number begins with a common fraction, with the decimal in its place; else the same text.

    A fraction that does not end as a decimal is refused (`InvalidInput`).

    >>> with_decimals("4 1/2 dwt"), with_decimals("½ ozt"), with_decimals("4½ dwt"), with_decimals("10 g/cm3")
    ('4.5 dwt', '0.5 ozt', '4.5 dwt', '10 g/cm3')
    """
    plain_text = _VULGAR.sub(lambda found: f" {normalize('NFKC', found[0]).replace('⁄', '/')}", text).strip()
    found = _FRACTION.match(plain_text)
    if found is None:
        return text
    whole, above, below = (int(part) if part else 0 for part in found.groups())
    exact = _ending(whole + Fraction(above, below)) if below else None
    if exact is None:
        raise InvalidInput.of("not-a-quantity", f"{text[:40]!r}: write {above}/{below} as a decimal.")
    return f"{plain(exact)} {plain_text[found.end() :].strip()}".strip()


def about_comma(text: str) -> str:
    """The closing words of a message about a number that was refused for its comma; empty if it has none.

    >>> about_comma("1,234.5"), about_comma("4.5")
    (" Write the number with a decimal point '.' and without separators of thousands.", '')
    """
    if "," not in text:
        return ""
    if point_for_comma(text) == text:
        return " Write the number with a decimal point '.' and without separators of thousands."
    return (
        " Write the decimal point as '.'. In a query, or for a csv table, decimal=, says that a comma is one; on the "
        "command line --decimal , does."
    )


def round_to(value: Decimal, decimals: int, rounding: Rounding = Rounding.HALF_EVEN) -> Decimal:
    """Round to a fixed number of decimals (half-even unless told otherwise).

    >>> round_to(Decimal("399.440275"), 3, Rounding.DOWN)
    Decimal('399.440')
    """
    return value.quantize(STEPS[decimals], rounding=_MODES[rounding], context=EXACT)


def fraction_to_decimal(value: Fraction, decimals: int | None, rounding: Rounding = Rounding.HALF_EVEN) -> Decimal:
    """A fraction as a decimal: exact where it ends and fits, else rounded once.

    With `decimals` the answer has that many. Without, an ending decimal of up to 34 digits is given
    exactly, and any other is rounded half-even to 15 significant digits.

    >>> fraction_to_decimal(Fraction(1, 480), None)
    Decimal('0.00208333333333333')
    """
    if decimals is None:
        exact = _ending(value)
        if exact is not None:
            return exact
        decimals = 14 - _magnitude(value)
    scale = Fraction(10) ** decimals
    scaled = value * scale
    whole, rest = divmod(scaled.numerator, scaled.denominator)
    if (rounding is Rounding.UP and rest) or (rounding is Rounding.DOWN and rest and value < 0):
        whole += 1
    elif rounding is Rounding.HALF_EVEN:
        whole = round(scaled)
    return Decimal(whole).scaleb(-decimals, context=EXACT)


def _ending(value: Fraction) -> Decimal | None:
    """The exact decimal of a fraction whose denominator holds only twos and fives, if it is short."""
    denominator = value.denominator
    for prime in (2, 5):
        while denominator % prime == 0:
            denominator //= prime
    if denominator != 1:
        return None
    exact = EXACT.divide(Decimal(value.numerator), Decimal(value.denominator))
    return exact if Fraction(exact) == value and len(exact.as_tuple().digits) <= 34 else None


def _magnitude(value: Fraction) -> int:
    """The power of ten of the first significant digit."""
    return EXACT.divide(Decimal(value.numerator), Decimal(value.denominator)).adjusted()


def plain(value: Decimal) -> str:
    """The decimal without an exponent and without idle trailing zeros, as a cell or a table shows it.

    >>> plain(Decimal("1E+3")), plain(Decimal("10.360")), plain(Decimal("0.00"))
    ('1000', '10.36', '0')
    """
    text = format(value, "f")
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
