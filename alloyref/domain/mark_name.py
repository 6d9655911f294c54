"""A mark as it is struck or written: `585`, `.583`, `14K`, `22 ct`, `sterling`, `Pt950`."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal

from alloyref.domain.errors import InvalidInput
from alloyref.domain.metal import CARAT_WORDS, KARAT_WORDS, KARATS
from alloyref.domain.numbers import EXACT, about_comma, parse_decimal, plain

WORDS = {"sterling": ("silver", 925), "coin": ("silver", 900), "britannia": ("silver", 958)}
"""Words for a fineness, where a jurisdiction's own table does not say otherwise (common practice, no source)."""
SYMBOLS = {"au": "gold", "ag": "silver", "pt": "platinum", "pd": "palladium"}
METAL_NAMES = ("gold", "silver", "platinum", "palladium")
SHORT = {"ster": "sterling", "stg": "sterling"}
_STAMPED = re.compile(r"(\d{1,2}) ?kp|k ?(\d{1,2})")
LEAST_PERMILLE = Decimal(100)
MOST_CHARACTERS = 30
_NUMBER = r"(?P<number>\d{0,4}\.?\d{1,4}\.?)"
_METAL = "au|ag|pt|pd|gold|silver|platinum|palladium"
_SCALE = "|".join((*KARAT_WORDS, *CARAT_WORDS, "permille", "‰"))
_MARK = re.compile(rf"(?:(?P<before>{_METAL})\s*)?{_NUMBER}\s*(?P<scale>{_SCALE})?(?:\s*(?P<after>{_METAL}))?")


@dataclass(frozen=True, slots=True)
class Mark:
    """A mark: the fineness it promises in permille, by arithmetic where it is a karat.

    `word` is the karat or word that a jurisdiction may give another fineness (`14K`, `sterling`); `metal` is
    named only if the mark itself names it.
    """

    text: str
    permille: Decimal
    word: str = ""
    metal: str = ""

    @property
    def is_karat(self) -> bool:
        """Whether it counts 24ths."""
        return self.word.endswith("K")


def parse_mark(given: object) -> Mark:
    """Read a mark; `InvalidInput` says which mark was probably meant.

    >>> parse_mark("14KP").word, parse_mark("K18").word, parse_mark("750/1000").permille
    ('14K', '18K', Decimal('750'))
    >>> parse_mark("18K").permille, parse_mark(".583").permille, parse_mark("Pt950").metal
    (Decimal('750'), Decimal('583.000'), 'platinum')
    """
    text = _text_of(given)
    folded = _plain_mark(text.casefold())
    metal, word = _word(folded)
    if word:
        return Mark(text, Decimal(WORDS[word][1]), word, metal)
    match = _MARK.fullmatch(folded)
    if match is None or match["number"].count(".") > 1:
        raise InvalidInput.of(
            "unknown-mark",
            f"{text!r} is not a mark known here: write a fineness in permille, a karat, or a word."
            + about_comma(text),
            suggestions=("585", "14K", "925", *WORDS),
        )
    number, scale = parse_decimal(match["number"]), match["scale"] or ""
    named = match["before"] or match["after"] or ""
    return _mark(text, number, scale, SYMBOLS.get(named, named))


def _plain_mark(text: str) -> str:
    """A mark without what stamps add: 14KP (plumb: fully kept), K18, 750/1000, ster."""
    if match := _STAMPED.fullmatch(text):
        return f"{match[1] or match[2]}k"
    return SHORT.get(text, text.removesuffix("/1000"))


def _text_of(given: object) -> str:
    """The mark as text, a JSON number too."""
    if isinstance(given, bool) or not isinstance(given, (str, int, float, Decimal)):
        raise InvalidInput.of("not-a-mark", "A mark is a number or a word, such as 585, '14K' or 'sterling'.")
    text = given.strip() if isinstance(given, str) else plain(parse_decimal(given))
    if not 0 < len(text) <= MOST_CHARACTERS:
        raise InvalidInput.of("not-a-mark", f"A mark has at most {MOST_CHARACTERS} characters.")
    return text


def _word(text: str) -> tuple[str, str]:
    """The metal and the word, if it is a word: `sterling`, `sterling silver`."""
    first, _, rest = text.partition(" ")
    if first in WORDS and rest in ("", WORDS[first][0]):
        return WORDS[first][0], first
    return "", ""


def _mark(text: str, number: Decimal, scale: str, metal: str) -> Mark:
    # Nothing else is struck as ct or carat: in a mark it weighs no stone.
    if scale in (*KARAT_WORDS, *CARAT_WORDS):
        return _karat(text, number, metal)
    permille = number * 1000 if number < 1 else number
    if permille < LEAST_PERMILLE:
        both = (f"{plain(number)}K",) if number <= KARATS else (plain(number * 10),)
        raise InvalidInput.of(
            "out-of-range", f"{text!r} is no fineness in permille; write a karat with its K.", suggestions=both
        )
    if permille > 1000:
        raise InvalidInput.of("out-of-range", f"{text!r} is more than fine metal.")
    return Mark(text, permille, "", metal)


def _karat(text: str, number: Decimal, metal: str) -> Mark:
    if metal not in ("", "gold"):
        raise InvalidInput.of("karat-of-gold", "Karat is a scale for gold; write the mark in permille.")
    if not 1 <= number <= KARATS:
        raise InvalidInput.of("out-of-range", f"{text!r}: fine gold is 24K.", suggestions=("24K",))
    permille = EXACT.divide(number * 1000, KARATS)
    return Mark(text, permille, f"{plain(number)}K", "gold")
