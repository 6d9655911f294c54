"""A metal or a material as answers show it, taken back, so that an answer's inputs can be sent again.

Answers show figures beside an id or a composition. Whoever sends them back may have changed one, and must not have it
silently ignored: what is not read has to agree with what would be shown in its place. No Flask here.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import islice
from typing import Any

import orjson

from alloyref.domain.errors import (
    AlloyrefError,
    InvalidInput,
    Issue,
    did_you_mean,
    nearest,
    pointer_token,
    unknown_field,
)
from alloyref.domain.numbers import parse_decimal, plain
from alloyref.domain.provenance import Status
from alloyref.web.schemas.document import parse

ID, STATUS, GIVEN = "id", "status", Status.GIVEN.value
TRADE_NAME = "trade_name"
FIGURES = ("density", "solidus", "liquidus")
TRADE_NAME_PARTS = (TRADE_NAME, *FIGURES)
ENDS = ("low", "high")
WORDS = (STATUS, "source", "note")
OF_A_FIGURE = ("value", "unit", *ENDS, *WORDS)
STATUSES = tuple(one.value for one in Status)
MOST_FAULTS = 20
"""No more are told of one object: each costs a search for near matches."""


def id_of(shown: Mapping[str, Any]) -> str:
    """The id in an object; `InvalidInput` if it is none."""
    id_ = shown[ID]
    if not isinstance(id_, str):
        raise InvalidInput.of("not-a-string", "An id is a string.", f"/{ID}")
    return id_


def asked_of(shown: Mapping[str, Any]) -> dict[str, Any]:
    """What the caller said of a metal without an id: figures that were given, not those that were estimated.

    `InvalidInput` if a figure does not say which it is.
    """
    _refuse(_figures_faults(shown))
    asked = {name: value for name, value in shown.items() if name != ID}
    for name, figure in _figures(shown):
        if figure[STATUS] == GIVEN:
            asked[name] = {part: value for part, value in figure.items() if part not in (*ENDS, *WORDS)}
        else:
            del asked[name]
    return asked


def hold_to(sent: Mapping[str, Any], shown: Mapping[str, Any]) -> None:
    """Hold what was sent back to what is shown in its place; `InvalidInput` tells each difference.

    Source and note are not compared, nor is status: no figure follows from them.
    """
    _refuse(_differences(sent, parse(orjson.dumps(shown))))


def hold_estimates(sent: Mapping[str, Any], shown: Mapping[str, Any]) -> None:
    """Hold the figures that were estimated to what is estimated now; `InvalidInput` tells each difference."""
    estimated = {name: figure for name, figure in _figures(sent) if figure[STATUS] != GIVEN}
    if estimated:
        hold_to(estimated, {name: shown.get(name) for name in estimated})


def _refuse(faults: Iterable[Issue]) -> None:
    issues = tuple(islice(faults, MOST_FAULTS))
    if issues:
        raise InvalidInput(*issues)


def _figures(shown: Mapping[str, Any]) -> Iterator[tuple[str, Mapping[str, Any]]]:
    """The figures that are written out; one on a line of text is the caller's, and read like any other."""
    return ((name, shown[name]) for name in FIGURES if isinstance(shown.get(name), Mapping))


def _figures_faults(shown: Mapping[str, Any]) -> Iterator[Issue]:
    for name, figure in _figures(shown):
        yield from (one.under(f"/{name}") for one in _form_faults(figure))
        if STATUS not in figure:
            detail = "Say whose figure it is: status given for one of your own, or leave out the id."
            yield Issue("missing", detail, f"/{name}/{STATUS}", (GIVEN,))
        elif figure[STATUS] == GIVEN and not _same(figure.get("low"), figure.get("high")):
            detail = "A figure that is given has no range; leave out low and high."
            yield Issue("contradiction", detail, f"/{name}/low")


def _form_faults(figure: Mapping[str, Any]) -> Iterator[Issue]:
    """Members that no figure has, and words that are none."""
    for name, value in figure.items():
        if name not in OF_A_FIGURE:
            yield unknown_field(name, OF_A_FIGURE)
        elif name in WORDS and not isinstance(value, str):
            yield Issue("not-a-string", "A string is needed here.", f"/{name}")
        elif name == STATUS and value not in STATUSES:
            near = nearest(value, STATUSES)
            detail = f"This is one of: {', '.join(STATUSES)}." + did_you_mean(near)
            yield Issue("not-an-option", detail, f"/{name}", near or STATUSES)


def _differences(sent: Mapping[str, Any], shown: Mapping[str, Any]) -> Iterator[Issue]:
    for name, value in sent.items():
        place = f"/{pointer_token(name)}"
        if name not in shown:
            yield unknown_field(name, tuple(shown))
        elif name in FIGURES and isinstance(value, Mapping) and shown[name] is not None:
            yield from (one.under(place) for one in _form_faults(value))
            parts = ((part, value[part]) for part in value if part in shown[name] and part not in WORDS)
            for part, figure in parts:
                if not _same(figure, shown[name][part]):
                    yield _differs(f"{place}/{part}", shown[name][part])
        elif not _same(value, shown[name]):
            yield _differs(place, shown[name])


def _differs(place: str, shown: Any) -> Issue:
    detail = f"Here it is {_told(shown)}; leave it out to have it so, or describe one of your own without an id."
    return Issue("contradiction", detail, place)


def _told(shown: Any) -> str:
    if isinstance(shown, Mapping):
        return ", ".join(f"{name} {_told(value)}" for name, value in shown.items())
    if isinstance(shown, list):
        return ", ".join(map(_told, shown))
    return "not told" if shown is None else shown if isinstance(shown, str) else plain(parse_decimal(shown))


def _same(value: Any, shown: Any) -> bool:
    if isinstance(shown, Mapping):
        alike = isinstance(value, Mapping) and value.keys() == shown.keys()
        return alike and all(_same(value[name], one) for name, one in shown.items())
    try:
        # As floats: a program that passes an answer on may keep no more digits.
        return bool(value == shown) or float(parse_decimal(value)) == float(parse_decimal(shown))
    except AlloyrefError:
        return False
