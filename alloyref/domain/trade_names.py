"""Names that the trade uses for several alloys: "14k yellow", "18 ct white gold", "950 platinum".

A trade name says a karat or a fineness, and perhaps a colour or what whitens it. No composition follows from that: an
alloy of 14 karat yellow gold with zinc is 5 % lighter than one without. So a trade name answers with the range of all
alloys that bear it and of what is printed for it.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache

from alloyref.domain.composition import THOUSAND, Composition
from alloyref.domain.errors import InvalidInput
from alloyref.domain.metal import CARAT_WORDS, DEADLY_FUME, KARAT_WORDS, KARATS, Alloy, Metal
from alloyref.domain.names import KEPT_NAMES
from alloyref.domain.numbers import plain
from alloyref.domain.provenance import Property

COLOURS = {"yellow": "yellow", "white": "white", "rose": "rose", "pink": "rose", "red": "rose", "green": "green"}
"""What each colour word covers. Rose, pink and red name shades of one family, and the trade parts them nowhere."""
COLOURS_COVERED = {"yellow": ("yellow",), "white": ("white",), "rose": ("rose", "red"), "green": ("green",)}
MARKED = {"gold": "Au", "platinum": "Pt", "palladium": "Pd"}
"""The metals that have trade names by fineness; silver alloys of a fineness are silver with copper by custom."""
METAL_WORDS = {"gold": "Au", "au": "Au", "platinum": "Pt", "pt": "Pt", "palladium": "Pd", "pd": "Pd"}
HELD_WORDS = {"nickel": "Ni", "ni": "Ni", "palladium": "Pd", "pd": "Pd"}
"""Words for what whitens a gold."""
MUCH_NICKEL = Decimal(50)
"""Permille of nickel from which a white gold is called a nickel white (common practice, no source)."""
RICHER = Decimal(6)
"""Permille that an alloy sold under a karat or fineness may lie above it (common practice, no source)."""
ROUNDED = Decimal(1)
"""Permille that a printed composition may lie below a karat by rounding: 58.3 % is printed for 14 karat. Such an
alloy does not bear the name here, but what it weighs and where it melts counts for the name's ranges."""
REST = "other"
"""Stands in an account of elements for all that a trade name does not fix."""
OTHER_WORDS = frozenset({"solid", "scrap", "casting", "grain", "grains", "alloy", "metal", "old", "clean", "new"})
"""Words beside a trade name that say nothing of what the metal is."""
COATINGS = frozenset(
    {"plated", "plate", "plating", "filled", "rolled", "vermeil", "overlay", "gf", "gp", "rgp", "hge"}
)
"""Words for a layer on another metal, which is no alloy."""
_CODES = {"y": "yellow", "w": "white", "r": "rose", "g": "", "p": "", "": ""}
"""What the letter behind a stamped karat says; P is for plumb, a fineness that is fully kept, or for pink."""
_CODE = re.compile(r"\b(\d{1,2})\s?k([ywrgp]?)g?\b|\bk(\d{2})([ywrgp]?)g?\b")
_COLOUR_CODES = {"yg": "yellow gold", "wg": "white gold", "rg": "rose gold", "pg": "rose gold"}
_COLOUR_CODE = re.compile(rf"\b({'|'.join(_COLOUR_CODES)})\b")
_KARAT = re.compile(rf"(\d{{1,2}}(?:\.\d+)?) ?(?:{'|'.join((*KARAT_WORDS, *CARAT_WORDS))})s?\b")
_FULL_STOP = re.compile(r"\.(?!\d)")
_FUSED = re.compile(r"\b(pt|pd|au)(\d{3})\b|\b(\d{3})(pt|pd|au)\b")
_APART = re.compile(r"[\s_,-]+")


@dataclass(frozen=True, slots=True)
class Said:
    """What the words of a trade name say: the metal, karat or permille, colour, and what whitens it."""

    base: str
    karat: Decimal | None = None
    permille: Decimal | None = None
    colour: str = ""
    holds: str = ""

    @property
    def has_fineness(self) -> bool:
        """Whether a karat or a fineness was said."""
        return self.karat is not None or self.permille is not None

    @property
    def promised(self) -> Fraction:
        """The permille that the name promises: 14 karat is 14/24 by arithmetic, not the stamp 585."""
        return Fraction(self.permille or 0) if self.karat is None else Fraction(self.karat) * 1000 / int(KARATS)

    @property
    def says_more_than_a_metal(self) -> bool:
        """Whether a fineness, a colour or a whitener was said, and not only "gold"."""
        return self.has_fineness or bool(self.colour or self.holds)

    def is_narrowed_by(self, other: Said) -> bool:
        """Whether the other says the same metal and colour with a fineness; of a white gold also what whitens it."""
        if other.base != self.base or not other.has_fineness:
            return False
        if not self.has_fineness and other.karat is None and self.base == "Au":
            return False  # the karats are enough to choose from
        holds = bool(other.holds) if self.colour == "white" and not self.holds else other.holds == self.holds
        return other.colour == self.colour and holds

    def distance_to(self, other: Said) -> tuple[int, bool]:
        """How far apart two finenesses lie, to about a percent; of equal ones the same scale is nearer."""
        apart = abs(other.promised - self.promised)
        return round(apart / 10), (self.karat is None) != (other.karat is None)

    def is_met_by(self, alloy: Alloy) -> bool:
        """Whether the alloy may bear the name: fine enough, of the colour, whitened so, and melted in a shop."""
        fine_enough = 0 <= self._excess(alloy) <= RICHER * KARATS
        return fine_enough and self._is_of_the_kind(alloy) and not _is_deadly(alloy)

    def is_printed_for(self, alloy: Alloy) -> bool:
        """Whether the alloy counts for the name's ranges only.

        It falls short of the name by no more than a printed figure is rounded, or it is not to be melted: old green
        golds hold cadmium, and go by the same name.
        """
        near = -ROUNDED * KARATS < self._excess(alloy) < 0
        deadly = 0 <= self._excess(alloy) <= RICHER * KARATS and _is_deadly(alloy)
        return (near or deadly) and self._is_of_the_kind(alloy)

    def _excess(self, alloy: Alloy) -> Decimal:
        """What the alloy holds above the promise, in 24ths of a permille, which are exact for every karat."""
        promised = (self.permille or 0) * KARATS if self.karat is None else self.karat * 1000
        return alloy.metal.composition.fineness(self.base) * KARATS - promised

    def _is_of_the_kind(self, alloy: Alloy) -> bool:
        metal = alloy.metal
        return (
            metal.base == self.base
            and set(alloy.uses) != {"solder"}
            and (not self.colour or alloy.colour in COLOURS_COVERED[self.colour])
            and (not self.holds or self.holds == whitened_by(metal.composition))
        )


def _is_deadly(alloy: Alloy) -> bool:
    return any(alloy.contains(symbol) for symbol in DEADLY_FUME)


@dataclass(frozen=True, slots=True)
class TradeName:
    """A name of the trade with the range of the alloys that bear it; densities in g/cm3, temperatures in C.

    `near_members` are the alloys that a printed figure's rounding leaves below the name; they count for the ranges.
    `printed` are the rows (publication/row) that print a figure for the name without saying a composition. Where the
    melting range of one of its alloys is not held (`melting_held` false), `solidus` and `liquidus` span the others.
    """

    id: str
    name: str
    said: Said
    spellings: tuple[str, ...]
    members: tuple[str, ...]
    near_members: tuple[str, ...]
    holds: tuple[str, ...]
    printed: tuple[str, ...]
    fineness: Property
    density: Property
    solidus: Property | None
    liquidus: Property | None
    melting_held: bool
    note: str = ""

    @property
    def names(self) -> tuple[str, ...]:
        """All that it may be written as: its id, its name, its other spellings."""
        return (self.id, self.name, *self.spellings)

    @property
    def metal(self) -> Metal:
        """The metal that a calculation is given: what the name promises, the rest unknown."""
        promised = self.fineness.low
        parts = ((self.said.base, promised), (REST, THOUSAND - promised))
        return Metal(
            self.id,
            self.name,
            Composition(parts),
            self.density,
            # A range that leaves an alloy of the name out is no basis for pouring one.
            self.solidus if self.melting_held else None,
            self.liquidus if self.melting_held else None,
            note=self.note,
            members=self.members,
            may_hold=self.holds,
            most_fine=self.fineness.high,
        )


def require_composition(metal: Metal, pointer: str = "") -> None:
    """`InvalidInput` with the alloys that bear it for a trade name, where the sums need a composition."""
    if metal.is_trade_name:
        detail = (
            f"{metal.name!r} is a trade name: what it is made of is needed here and differs from alloy to alloy. "
            "Give one of these, or the composition your supplier states."
        )
        raise InvalidInput.of("trade-name", detail, pointer, metal.members)


def whitened_by(composition: Composition) -> str:
    """The symbol of what whitens a gold: palladium, nickel, or nothing where it is both or neither."""
    nickel, palladium = composition.fineness("Ni") >= MUCH_NICKEL, composition.fineness("Pd") > 0
    if nickel == palladium:
        return ""
    return "Ni" if nickel else "Pd"


@lru_cache(maxsize=KEPT_NAMES)
def read_trade_name(text: str) -> Said | None:
    """What a name says if every word of it is a karat, a fineness, a metal, a colour or a whitener; else None.

    >>> read_trade_name("14 kt white gold") == Said("Au", karat=Decimal(14), colour="white")
    True
    >>> read_trade_name("950 pt") == read_trade_name("Pt950") == Said("Pt", permille=Decimal(950))
    True
    >>> read_trade_name("14 ct yellow 20.5/21"), read_trade_name("sterling silver")
    (None, None)
    """
    plain_text = plain_words(text)
    karats = _KARAT.findall(plain_text)
    words = [word for word in _KARAT.sub(" ", plain_text).split() if word not in OTHER_WORDS]
    finenesses = [word for word in words if word.isascii() and word.isdigit() and len(word) == 3]
    colours = {COLOURS[word] for word in words if word in COLOURS}
    metals = [METAL_WORDS[word] for word in words if word in METAL_WORDS]
    nickel = [word for word in words if HELD_WORDS.get(word) == "Ni"]
    known = len(finenesses) + len(metals) + len(nickel) + sum(word in COLOURS for word in words)
    if known != len(words) or len(karats) + len(finenesses) > 1 or len(colours) > 1:
        return None
    base = "Au" if karats or colours or "Au" in metals else next(iter(metals), "")
    whiteners = {symbol for symbol in (*metals, *(["Ni"] if nickel else [])) if symbol != base}
    if not base or len(whiteners) > 1 or (whiteners and (base != "Au" or not whiteners <= set(HELD_WORDS.values()))):
        return None
    return Said(
        base,
        Decimal(karats[0]) if karats else None,
        Decimal(finenesses[0]) if finenesses else None,
        colours.pop() if colours else ("white" if whiteners else ""),
        whiteners.pop() if whiteners else "",
    )


def plain_words(text: str) -> str:
    """The words of a name in small letters, with the codes of the trade written out.

    >>> plain_words("14KY"), plain_words("Pt950"), plain_words("18K WG"), plain_words("K18")
    ('14k yellow', 'pt 950', '18k white gold', '18k')
    """
    apart = _APART.sub(" ", _FUSED.sub(r"\1\4 \2\3", _FULL_STOP.sub(" ", text.casefold()))).strip()
    coded = _CODE.sub(lambda found: f"{found[1] or found[3]}k {_CODES[found[2] or found[4] or '']} ", apart)
    return " ".join(_COLOUR_CODE.sub(lambda found: _COLOUR_CODES[found[1]], coded).split())


def is_coating(text: str) -> bool:
    """Whether a name says a layer on another metal.

    >>> is_coating("14k gold filled"), is_coating("14k gold")
    (True, False)
    """
    return not COATINGS.isdisjoint(plain_words(text).split())


def karats_in(name: str) -> tuple[Decimal, ...]:
    """Every karat that a name says.

    >>> karats_in("14 ct yellow 20.5/21"), karats_in("sterling silver")
    ((Decimal('14'),), ())
    """
    return tuple(Decimal(karat) for karat in _KARAT.findall(name.casefold()))


def spellings_of(said: Said) -> tuple[str, ...]:
    """The usual ways to write a trade name; case, spaces and hyphens make no difference.

    >>> spellings_of(Said("Au", karat=Decimal(14), colour="yellow"))[:3]
    ('14k yellow gold', '14k yellow', '14 ct yellow')
    >>> spellings_of(Said("Pt", permille=Decimal(950)))
    ('950 platinum', 'pt950', '950 pt', 'platinum 950')
    """
    metal = next(name for name, symbol in MARKED.items() if symbol == said.base)
    held = {"Ni": "nickel", "Pd": "palladium"}.get(said.holds, "")
    colours = [word for word, colour in COLOURS.items() if colour == said.colour] or [""]
    if said.karat is not None:
        grades = [f"{plain(said.karat)}{mark}" for mark in ("k", " ct", "kt", "ct")]
    else:
        grades = [plain(said.permille or Decimal(0))]
    written = []
    for colour in colours:
        words = " ".join(word for word in (held, colour) if word)
        written += [f"{grades[0]} {words} {metal}", *(f"{grade} {words}" for grade in grades)]
    if said.base != "Au":
        symbol = said.base.casefold()
        written += [f"{symbol}{grades[0]}", f"{grades[0]} {symbol}", f"{metal} {grades[0]}"]
    if said.karat is None and not said.colour:
        written.remove(f"{grades[0]} ")
    tidy = (" ".join(one.split()) for one in written)
    return tuple(dict.fromkeys(tidy))


def may_hold(alloys: Collection[Alloy], base: str) -> tuple[str, ...]:
    """The symbols that at least one of the alloys holds beside its base metal."""
    symbols = (symbol for alloy in alloys for symbol in alloy.metal.composition.elements if symbol != base)
    return tuple(dict.fromkeys(symbols))
