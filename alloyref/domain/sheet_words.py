"""What an order's answer says in words on its sheet, on paper and on a page alike."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from alloyref.domain.figures import MASS_DECIMALS, as_asked, fixed, mass_in, number

STAGES = {"with-sprue": "with its sprue", "as-cast": "as cast", "finished": "finished"}


def composition_line(composition: Mapping[str, Any]) -> str:
    """A composition (permille) on one line, as it may be typed in again.

    >>> composition_line({"Ag": 493.975904, "Cu": 506.024096})
    'Ag 493.975904, Cu 506.024096'
    """
    return ", ".join(f"{symbol} {number(share)}" for symbol, share in composition.items())


def bought(item: Mapping[str, Any], named: str) -> str:
    """What is asked of the supplier; a master alloy by what it is made of (permille), or nobody could order it.

    >>> bought({"what": "master alloy", "metal": "", "composition": {"Ag": 493.9759, "Cu": 506.0241}}, "")
    'master alloy (Ag 494, Cu 506)'
    >>> bought({"what": "fine Au", "metal": "Au", "composition": {"Au": 1000.0}}, "Au")
    'fine Au'
    >>> bought({"what": "alloyed metal", "metal": "gold-585-red", "composition": {"Au": 585.0}}, "14 ct red")
    'alloyed metal 14 ct red'
    """
    if not item["metal"] and len(item["composition"]) > 1:
        rounded = {symbol: round(share, 1) for symbol, share in item["composition"].items()}
        return f"{item['what']} ({composition_line(rounded)})"
    if item["what"].endswith(item["metal"]):
        return str(item["what"])
    return f"{item['what']} {named}"


def weighed_in(to_buy: Mapping[str, Any]) -> str:
    """How much fine metal and master alloy the charge takes (g); empty where it is not made up from both.

    Each is bought in the supplier's steps, rounded up by itself: together they may fall short of the fineness.

    >>> items = [{"what": "fine Au", "needed": {"value": 10.7605, "unit": "g"}}]
    >>> items += [{"what": "master", "needed": {"value": 7.6335, "unit": "g"}}]
    >>> weighed_in({"items": items}).partition(". ")[0]
    'Weigh in 10.7605 g of fine Au, 7.6335 g of master'
    >>> weighed_in({"items": items[:1]})
    ''
    """
    items = to_buy["items"]
    if len(items) < 2:
        return ""
    parts = ", ".join(f"{as_asked(one['needed'])} of {one['what']}" for one in items)
    return f"Weigh in {parts}. {NOT_ALL}"


def to_be_sure(to_buy: Mapping[str, Any]) -> str:
    """What to buy to be sure of enough, in whole steps; empty where no more than is bought anyway.

    >>> shown = {"g": 22.5, "dwt": 14.47, "ozt": 0.7234}
    >>> items = [{"what": "alloyed metal", "to_be_sure": {"value": 22.5, "display": shown}}]
    >>> to_be_sure({"value": 20.0, "to_be_sure": {"value": 22.5, "display": shown}, "items": items})
    'To be sure of enough, buy 22.50 g (14.47 dwt, 0.7234 ozt).'
    """
    sure, items = to_buy["to_be_sure"], to_buy["items"]
    if sure["value"] <= to_buy["value"]:
        return ""
    each = ", ".join(f"{mass_in('g', one['to_be_sure']['display']['g'])} g of {one['what']}" for one in items)
    shown = {unit: f"{mass_in(unit, sure['display'][unit])} {unit}" for unit in MASS_DECIMALS}
    parts = f": {each}" if len(items) > 1 else ""
    return f"To be sure of enough, buy {shown['g']} ({shown['dwt']}, {shown['ozt']}){parts}."


def held_against(check: Mapping[str, Any]) -> str:
    """How far a way in is from the one that is used.

    >>> held_against({"used": False, "difference_percent": 12.3}), held_against({"used": True})
    ('+12.3 %', 'used')
    """
    return "used" if check["used"] else f"{check['difference_percent']:+g} %"


def on_the_arm(arm: Mapping[str, Any]) -> str:
    """The load on a centrifugal arm, what balances it, and what was not said.

    >>> load = {"load": {"value": 61.0}, "complete": False}
    >>> on_the_arm({**load, "moment_g_cm": None, "counterweight": None, "note": ""})
    '61.0 g; flask or crucible not given: weigh them and add'
    """
    parts = [f"{fixed(arm['load']['value'], 1)} g"]
    if not arm["complete"]:
        parts.append("flask or crucible not given: weigh them and add")
    if arm["moment_g_cm"] is not None:
        parts.append(f"moment {number(arm['moment_g_cm'])} g cm")
    if arm["counterweight"] is not None:
        parts.append(f"counterweight {fixed(arm['counterweight']['value'], 1)} g")
    return "; ".join([*parts, *filter(None, [arm["note"]])])


def mark_warning(assumptions: Sequence[Mapping[str, Any]]) -> str:
    """That the final metal does not reach the mark asked for, which stands first on a sheet; empty if it does.

    >>> mark_warning([{"id": "mark-not-reached", "text": "14K: it falls short in UK."}, {"id": "melt-loss"}])
    '14K: it falls short in UK.'
    """
    return " ".join(one["text"] for one in assumptions if one["id"] == "mark-not-reached")


def mark_rows(marks: Sequence[Mapping[str, Any]]) -> list[tuple[str, str]]:
    """What the final metal may be marked, and where.

    >>> one = {"mark": "585", "verdict": "meets", "misses_by": None, "within_tolerance": False}
    >>> short = one | {"verdict": "falls-short", "misses_by": {"value": 2.0, "unit": "permille"}}
    >>> mark_rows([one | {"jurisdiction": "UK"}, one | {"jurisdiction": "ISO"}, short | {"jurisdiction": "China"}])
    [('585', 'UK, ISO'), ('585: falls short by 2 permille', 'China')]
    """
    places: dict[str, list[str]] = {}
    for one in marks:
        places.setdefault(_mark_words(one), []).append(one["jurisdiction"])
    return [(words, ", ".join(where)) for words, where in places.items()]


def _mark_words(one: Mapping[str, Any]) -> str:
    words = one["mark"] or "no mark"
    if one["misses_by"] is not None:
        return f"{words}: falls short by {number(one['misses_by']['value'])} permille"
    if one["verdict"] != "meets":
        return f"{words}: {one['verdict'].replace('-', ' ')}"
    return f"{words}, only by the tolerance" if one["within_tolerance"] else words


NOT_ALL = (
    "Not all that is bought: melted together it may miss the fineness. Round the fine metal up to what the balance "
    "shows, and the rest down."
)


def weighed(inputs: Mapping[str, Any]) -> str:
    """What the order starts from, so that a printed sheet can be checked.

    >>> trial = {"metal": {"name": "Sterling silver"}, "mass": {"value": 6.31, "unit": "g"}, "pieces_weighed": 1}
    >>> weighed({"trial": trial | {"stage": "as-cast", "finished_mass": None}, "stones": []})
    'Weighed: 6.31 g of Sterling silver, as cast'
    """
    trial, volume, pattern = (inputs.get(way) for way in ("trial", "volume", "pattern"))
    if trial:
        of = f" of {trial['metal']['name'] or 'a given composition'}, {STAGES[trial['stage']]}"
        return f"Weighed: {_mass(trial)}{of}{_count(trial)}{_stones(inputs)}"
    if volume:
        return f"Measured: model, {number(volume['value'])} {volume['unit']}"
    if pattern:
        return f"Weighed: pattern, {_mass(pattern)}{_count(pattern)}"
    return ""


def stones_in_trial(inputs: Mapping[str, Any]) -> float:
    """The stones (g) that lay on the balance with the trial; none if it was weighed a second time, when finished."""
    trial = inputs["trial"]
    if trial["finished_mass"] is not None:
        return 0.0
    each = sum(stone["mass"]["value"] * stone["count"] for stone in inputs["stones"])
    return float(round(each * trial["pieces_weighed"], 6))


def _mass(weighed_thing: Mapping[str, Any]) -> str:
    return as_asked(weighed_thing["mass"])


def _count(weighed_thing: Mapping[str, Any]) -> str:
    count = weighed_thing["pieces_weighed"]
    return f", {count} together" if count > 1 else ""


def _stones(inputs: Mapping[str, Any]) -> str:
    stones = stones_in_trial(inputs)
    return f", of it {number(stones)} g stones" if stones else ""
