"""Names as people write them: which spellings are one and the same, and which alloy or element they mean."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping
from functools import lru_cache

from alloyref.domain.composition import PRECIOUS
from alloyref.domain.errors import alike, one_slip_off
from alloyref.domain.metal import CARAT_WORDS, KARAT_WORDS, Alloy, Element
from alloyref.domain.searches import searched

KARAT = re.compile(rf"(\d+(?:\.\d+)?) ?(?:{'|'.join((*KARAT_WORDS, *CARAT_WORDS))})\b")
FREE_OF = re.compile(r"\b(?:([a-z]+)[\s_-]free|(?:free of|no|non|not|without)[\s_-]+([a-z]+))\b")
PARTING = re.compile(r"[\s_-]+")
MOST_NAME = 80
"""Longer than any name; what is longer is not searched for."""
KEPT_NAMES = 1000
"""Names of which the key is kept: to find out that a name means nothing, it is asked for several times."""
SAME_WORD = 75
"""In percent, how alike a misspelt word and the one that was meant must be; `sliver` and `silver` are."""


@lru_cache(maxsize=KEPT_NAMES)
def name_key(text: str) -> str:
    """A name without what makes no difference: case, spacing, hyphens, and how karat is written.

    >>> name_key("  14 ct  Yellow"), name_key("14K-yellow"), name_key("Sterling silver")
    ('14k yellow', '14k yellow', 'sterling silver')
    """
    plain = PARTING.sub(" ", text.casefold()).strip()
    return KARAT.sub(r"\1k", plain)


class Names:
    """Every name of the alloys and elements, put in order once."""

    def __init__(self, alloys: Iterable[Alloy], elements: Mapping[str, Element]) -> None:
        alloys = tuple(alloys)
        shared = Counter(alias for alloy in alloys for alias in alloy.aliases)
        own = {alloy.id: sum(shared[alias] == 1 for alias in alloy.aliases) for alloy in alloys}
        self._alloys = tuple(sorted(alloys, key=lambda alloy: ("casting" not in alloy.uses, -own[alloy.id])))
        self._ids = {name: alloy.id for alloy in self._alloys for name in _names_of(alloy)}
        self._words = [
            (alloy, _words(" ".join((*_names_of(alloy), alloy.colour, alloy.family)))) for alloy in self._alloys
        ]
        self._known_words = dict.fromkeys(sorted(set[str]().union(*(words for _, words in self._words))))
        self._spelt = lru_cache(maxsize=KEPT_NAMES)(self._word_spelt)
        self._id_keys = {name_key(alloy.id): alloy.id for alloy in self._alloys}
        self._by_key = _ids_by_key(self._alloys, elements)
        self._symbols = {name_key(element.name): symbol for symbol, element in elements.items()}
        self._symbols |= {name_key(symbol): symbol for symbol in elements}

    @property
    def listed(self) -> list[str]:
        """Each name and alias that means one alloy and is no id, however it is spelt."""
        return sorted(
            {
                name
                for alloy in self._alloys
                for name in _names_of(alloy)
                if self._by_key[name_key(name)] == (alloy.id,) and name_key(alloy.id) != name_key(name)
            }
        )

    def alloys(self, name: str) -> tuple[str, ...]:
        """The ids of the alloys that an id, name or alias means: one, none, or several."""
        return self._by_key.get(name_key(name), ()) if len(name) <= MOST_NAME else ()

    def symbol(self, name: str) -> str | None:
        """The symbol of the element that a symbol or name means, in any case."""
        return self._symbols.get(name_key(name)) if len(name) <= MOST_NAME else None

    def free_of(self, name: str) -> tuple[str, str]:
        """The rest of a name that asks for freedom from an element, and its symbol; else the name, and no symbol."""
        match = FREE_OF.search(name.casefold())
        symbol = self.symbol(match[1] or match[2]) if match else None
        if match is None or symbol is None:
            return name, ""
        return name[: match.start()] + name[match.end() :], symbol

    def near(self, name: str, most: int) -> tuple[str, ...]:
        """Ids of alloys that the words of `name` stand in, misspelt ones too; else those that look like it.

        An id that is one letter off goes first. Where a word is the name of a metal, the alloys that are named for it
        go next; then those for casting, and of these the ones that the trade has most names of their own for.
        "Nickel free" keeps out those with nickel. No ids where no more searches may be made.
        """
        name = name[:MOST_NAME]
        return searched((name, most), lambda: self.search(name, most))

    def search(self, name: str, most: int) -> tuple[str, ...]:
        """As `near`, as a part of a search that is counted already."""
        name, without = self.free_of(name)
        words = set(self.corrected(name).split())
        holding = [
            alloy
            for alloy, known in self._words
            if words and words <= known and not (without and alloy.contains(without))
        ]
        if holding:
            bases = {self._symbols[word] for word in words if word in self._symbols}
            holding.sort(key=lambda alloy: bool(bases) and alloy.base not in bases)
        if without or self.symbol(name) is not None:
            return tuple(alloy.id for alloy in holding[:most])  # what merely looks like it is not meant
        close = (self._id_keys[key] for key in one_slip_off(name_key(name), self._id_keys, most))
        others = (alloy.id for alloy in holding) if holding else (self._ids[one] for one in alike(name, self._ids))
        return tuple(dict.fromkeys((*close, *others)))[:most]

    def corrected(self, name: str) -> str:
        """The name with its misspelt words as they are spelt."""
        return " ".join(self._spelt(word) for word in name_key(name[:MOST_NAME]).split())

    def _word_spelt(self, word: str) -> str:
        """A word as it is spelt here, a bare number as the karat it is; another with digits says what it says."""
        if f"{word}k" in self._known_words:
            return f"{word}k"
        if word in self._known_words or not word.isalpha():
            return word
        return next(iter(alike(word, self._known_words, 1, SAME_WORD)), word)


def _ids_by_key(alloys: Iterable[Alloy], elements: Mapping[str, Element]) -> dict[str, tuple[str, ...]]:
    """The ids that each key stands for; a precious alloy also goes by its names with the metal's behind."""
    found: dict[str, dict[str, None]] = {}
    for alloy in alloys:
        metal = f" {elements[alloy.base].name}" if alloy.base in PRECIOUS else ""
        for name in _names_of(alloy):
            for key in (name_key(name), name_key(name + metal)):
                found.setdefault(key, {})[alloy.id] = None
    return {key: tuple(ids) for key, ids in found.items()}


def _words(text: str) -> set[str]:
    return set(name_key(text).split())


def _names_of(alloy: Alloy) -> tuple[str, ...]:
    return (alloy.id, alloy.metal.name, *alloy.aliases)
