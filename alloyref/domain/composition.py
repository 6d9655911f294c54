"""What a metal is made of: permille by mass, and the fineness that follows."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cached_property

from alloyref.domain.errors import InvalidInput, Issue, did_you_mean, nearest, pointer_token
from alloyref.domain.numbers import DECIMAL_TEXT, parse_decimal, plain, round_to

THOUSAND = Decimal(1000)
SUM_TOLERANCE = Decimal("0.5")
# Shares are kept to a thousandth of a permille: finer than any assay, and short enough that products stay exact.
SHARE_DECIMALS = 3
PRECIOUS = ("Au", "Pt", "Pd", "Ag")
# Below this share a precious metal does not give an alloy its name (common practice, no source).
LEAST_NAMING_SHARE = Decimal(300)
# One share of a composition written as a line: a symbol and a number, apart or together.
_SHARE = re.compile(rf"\s*([A-Za-z]{{1,2}})\s*[:=]?\s*({DECIMAL_TEXT})\s*", re.ASCII)
# Each share begins with a symbol, so a comma between two digits parts no shares: it is a decimal comma.
_DECIMAL_COMMA = re.compile(r"(?<=\d),(?=\d)", re.ASCII)
_BETWEEN_SHARES = re.compile("[,;]")


@dataclass(frozen=True)
class Composition:
    """Shares by mass in permille, summing to exactly 1000, in the order given."""

    parts: tuple[tuple[str, Decimal], ...]

    @classmethod
    def from_permille(cls, shares: Mapping[str, Decimal], known: Collection[str]) -> Composition:
        """The composition of given permille shares.

        Shares may miss 1000 by up to 0.5 permille, as rounded tables do; the difference is laid to the largest share
        of a base metal, else to the largest but one, so that no metal is made finer than it was said to be. Unknown
        elements, negative shares and other sums are refused (`InvalidInput`).

        >>> Composition.from_permille({"Au": Decimal(750), "Ag": Decimal(250)}, {"Au", "Ag"}).fineness("Au")
        Decimal('750.000')
        """
        issues = [_unknown_element(symbol, known) for symbol in shares if symbol not in known]
        issues += [
            Issue("out-of-range", "A share cannot be negative.", f"/{pointer_token(symbol)}")
            for symbol, share in shares.items()
            if share < 0
        ]
        total = sum(shares.values(), Decimal(0))
        if not issues and abs(total - THOUSAND) > SUM_TOLERANCE:
            hint = " These look like percent: multiply by ten." if abs(total - 100) <= SUM_TOLERANCE / 10 else ""
            detail = f"The shares sum to {plain(total)}; they are permille and must sum to 1000 within 0.5.{hint}"
            issues.append(Issue("composition-sum", detail))
        if issues:
            raise InvalidInput(*issues)
        parts = {symbol: round_to(share, SHARE_DECIMALS) for symbol, share in shares.items() if share}
        gap = THOUSAND - sum(parts.values())
        parts[_bears(gap, parts)] += gap
        return cls(tuple((symbol, share) for symbol, share in parts.items() if share))

    @classmethod
    def from_text(cls, text: str, known: Collection[str]) -> Composition:
        """The composition of permille shares on one line, as a query or a command holds it.

        Shares are separated by commas or semicolons, and may be written with a decimal comma.

        Raises `InvalidInput` like `from_permille`, and for what is no share or is given twice.

        >>> Composition.from_text("Au 750, Cu:250", {"Au", "Cu"}).parts
        (('Au', Decimal('750.000')), ('Cu', Decimal('250.000')))
        >>> Composition.from_text("Au 585,5; Cu 414,5", {"Au", "Cu"}).parts
        (('Au', Decimal('585.500')), ('Cu', Decimal('414.500')))
        """
        shares: dict[str, Decimal] = {}
        for part in _shares(text):
            match = _SHARE.fullmatch(part)
            if match is None:
                detail = f"{part.strip()[:40]!r} is not a symbol and a share, as in 'Au 750, Ag 125, Cu 125'."
                raise InvalidInput.of("not-a-composition", detail)
            symbol, share = match.groups()
            if symbol in shares:
                raise InvalidInput.of("duplicate", f"{symbol} is given twice.")
            shares[symbol] = parse_decimal(share)
        try:
            return cls.from_permille(shares, known)
        except InvalidInput as error:
            # A pointer into a line of text would point at nothing.
            raise InvalidInput(*(replace(issue, pointer="") for issue in error.issues)) from None

    @staticmethod
    def is_line(text: str) -> bool:
        """Whether a text is meant as a composition on one line: it begins with a symbol and a number.

        >>> Composition.is_line("Au 750, Ag 250"), Composition.is_line("gold-750"), Composition.is_line("Au")
        (True, False, False)
        """
        return _SHARE.fullmatch(_shares(text)[0]) is not None

    @classmethod
    def pure(cls, symbol: str) -> Composition:
        """One element alone."""
        return cls(((symbol, THOUSAND),))

    def fineness(self, symbol: str) -> Decimal:
        """The share of one element in permille; 0 if absent."""
        return next((share for name, share in self.parts if name == symbol), Decimal(0))

    @property
    def elements(self) -> tuple[str, ...]:
        """The symbols present."""
        return tuple(symbol for symbol, _ in self.parts)

    @cached_property
    def fractions(self) -> tuple[tuple[str, Decimal], ...]:
        """The shares as exact fractions of one."""
        return tuple((symbol, share.scaleb(-3)) for symbol, share in self.parts)

    @cached_property
    def tokens(self) -> frozenset[str]:
        """What tables of cautions and notes know a metal by: its base, and each element it holds."""
        return frozenset((f"base:{self.base}", *(f"contains:{symbol}" for symbol in self.elements)))

    @cached_property
    def base(self) -> str:
        """The metal the alloy is named and marked for.

        Gold from 300 permille up; else the largest of platinum, palladium and silver that reaches 300;
        else the largest share of all.
        """
        shares = dict(self.parts)
        precious = [symbol for symbol in PRECIOUS if shares.get(symbol, Decimal(0)) >= LEAST_NAMING_SHARE]
        if "Au" in precious:
            return "Au"
        return max(precious or shares, key=lambda symbol: shares[symbol])


def _bears(gap: Decimal, parts: Mapping[str, Decimal]) -> str:
    """Which share takes what the shares miss of 1000, in permille."""
    largest_first = sorted(parts, key=lambda symbol: parts[symbol], reverse=True)
    base_metals = [symbol for symbol in largest_first if symbol not in PRECIOUS]
    candidates = (*base_metals[:1], *largest_first[1:2], largest_first[0])
    return next((symbol for symbol in candidates if parts[symbol] + gap > 0), largest_first[0])


def _shares(text: str) -> list[str]:
    """The shares on a line, each with a decimal point."""
    return _BETWEEN_SHARES.split(_DECIMAL_COMMA.sub(".", text))


def _unknown_element(symbol: str, known: Collection[str]) -> Issue:
    near = nearest(symbol, known)
    return Issue(
        "unknown-element",
        f"{symbol[:20]!r} is not an element known here." + did_you_mean(near),
        f"/{pointer_token(symbol)}",
        near,
    )
