"""What can go wrong, in the words of the trade; no HTTP here."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from rapidfuzz import fuzz, process
from rapidfuzz.distance import OSA

from alloyref.domain.searches import searched

MOST_COMPARED = 80
"""Characters of a name that are compared with others."""
LOOKS_LIKE = 55
"""Percent of the letters of two names that must be the same, in the same order, for the one to be offered."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """Something that a name may have meant: the id to write for it, its name, and what it is."""

    id: str
    name: str
    what: str


@dataclass(frozen=True, slots=True)
class Issue:
    """One thing wrong with one place of the input.

    `pointer` is a JSON pointer (RFC 6901) into what was sent; `code` is stable and meant for programs;
    `detail` is a sentence for people; `suggestions` are values that would have been accepted, and `choices` tell of
    those of them that have a name what they are.
    """

    code: str
    detail: str
    pointer: str = ""
    suggestions: tuple[str, ...] = ()
    choices: tuple[Candidate, ...] = ()

    def under(self, prefix: str) -> Issue:
        """The same issue seen from one level further out."""
        if not prefix:
            return self
        # `dataclasses.replace` takes four times as long, and a refusal has up to fifty issues, seen from four levels.
        return Issue(self.code, self.detail, prefix + self.pointer, self.suggestions, self.choices)


def pointer_token(name: str) -> str:
    """A name as a reference token of a JSON pointer (RFC 6901).

    >>> pointer_token("Au/x~")
    'Au~1x~0'
    """
    return name.replace("~", "~0").replace("/", "~1")


class AlloyrefError(Exception):
    """Base of all that the core raises on purpose."""

    def __init__(self, *issues: Issue) -> None:
        super().__init__("; ".join(issue.detail for issue in issues))
        self.issues = issues


class InvalidInput(AlloyrefError):
    """What was asked breaks a rule; the same question will never have an answer."""

    @classmethod
    def of(cls, code: str, detail: str, pointer: str = "", suggestions: Iterable[str] = ()) -> InvalidInput:
        """The error with a single issue."""
        return cls(Issue(code, detail, pointer, tuple(suggestions)))


class UnknownName(AlloyrefError):
    """A resource named in an address does not exist."""

    @classmethod
    def of(cls, kind: str, name: str, known: Iterable[str], meant: Iterable[str] = ()) -> UnknownName:
        """The error for one unknown name, with those it must mean, else the nearest known ones."""
        near = tuple(meant) or nearest(name, known)
        return cls(Issue(f"unknown-{kind}", f"There is no {kind} {name[:80]!r}." + did_you_mean(near), "", near))


class NotAvailable(AlloyrefError):
    """The question is sound, but nothing published or computed answers it; a guess is not given.

    The codes of its issues end in `not-available`, so that they are known again among the faults of an input.
    """


def refused(issues: Sequence[Issue]) -> AlloyrefError:
    """The error for the issues of one input: `NotAvailable` if each is one of its kind, `InvalidInput` otherwise."""
    unanswered = all(issue.code.endswith("not-available") for issue in issues)
    return NotAvailable(*issues) if unanswered else InvalidInput(*issues)


def nearest(name: str, known: Iterable[str], most: int = 4) -> tuple[str, ...]:
    """The known names that look most like `name`, best first; none where no more searches may be made.

    >>> nearest("sterlng-silver", ["sterling-silver", "fine-gold"])
    ('sterling-silver',)
    """
    name, known = name[:MOST_COMPARED], tuple(known)
    return searched((name, known, most), lambda: alike(name, known, most))


def alike(name: str, known: Iterable[str], most: int = 4, least: float = LOOKS_LIKE) -> tuple[str, ...]:
    """As `nearest`, as a part of a search that is counted already; of names as near, those known first."""
    folded = _folded(tuple(known))
    found = process.extract(
        name[:MOST_COMPARED].casefold(), folded, scorer=fuzz.ratio, limit=most, score_cutoff=least, processor=None
    )
    return tuple(known_name for _, _, known_name in found)


def one_slip_off(name: str, known: Iterable[str], most: int = 4) -> tuple[str, ...]:
    """The known names that are one slip of the pen away: a letter more, less or other, or two changed about.

    >>> one_slip_off("fine-glod", ["fine-gold", "fine-silver"])
    ('fine-gold',)
    """
    folded = _folded(tuple(known))
    found = process.extract(
        name[:MOST_COMPARED].casefold(), folded, scorer=OSA.distance, limit=most, score_cutoff=1, processor=None
    )
    return tuple(known_name for _, _, known_name in found)


@lru_cache(maxsize=32)
def _folded(known: tuple[str, ...]) -> dict[str, str]:
    """Names as they are compared, by the name to offer; kept, since the same few sets are searched all the time."""
    return {name: name.casefold() for name in known}


def did_you_mean(near: Iterable[str]) -> str:
    """The closing words of a message that names near matches.

    >>> did_you_mean(["ozt", "oz_av"])
    ' Did you mean ozt or oz_av?'
    """
    names = list(near)
    listed = " or ".join(part for part in (", ".join(names[:-1]), *names[-1:]) if part)
    return f" Did you mean {listed}?" if listed else ""


def unknown_field(name: str, known: tuple[str, ...]) -> Issue:
    """The issue for a field that does not exist, with the nearest that do."""
    near = nearest(name, known)
    detail = f"There is no field {name[:40]!r} here." + did_you_mean(near)
    return Issue("unknown-field", detail, f"/{pointer_token(name)}", near or known)
