"""The recovery as a sheet: what the lots hold, and what each offer pays for them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from alloyref.cli.layout import (
    RULE,
    Json,
    cautions_of,
    counted,
    dataset_line,
    least,
    named,
    names_in,
    rests_on,
    table,
    words,
)
from alloyref.domain.figures import asked, both_ways, mass_in
from alloyref.domain.recovery.inputs import Scrap

LINES = (
    ("payable metal", "worth"),
    ("less fee", "fee"),
    ("less lot charge", "lot_charge"),
    ("less treatment", "treatment_charge"),
    ("less refining", "refining_charge"),
    ("less to the minimum", "to_minimum"),
    ("paid", "net"),
)


def recovery_sheet(answer: Json) -> str:
    """Lots, fine contents, the settlement under each offer, which pays more, and when sending beats holding."""
    result = answer["result"]
    parts = [
        f"RECOVERY: {counted(len(result['lots']), 'lot')}\n{RULE}",
        _lots(result["lots"], names_in(answer["inputs"])),
        _contents(result),
        *(_offer(one) for one in result["settlements"]),
        _comparison(result["comparison"]),
        "\n".join([*result["quotes"], *_unpriced(result["unpriced"])]),
        "\n".join(result["notes"]) + f"\n{RULE}",
        rests_on(answer["assumptions"]) if answer["assumptions"] else "",
        cautions_of(answer["cautions"]),
        dataset_line(answer),
    ]
    return "\n\n".join(part for part in parts if part)


def _lots(lots: Sequence[Json], names: Mapping[str, str]) -> str:
    rows = []
    for one in lots:
        masses = [f"{asked(one[key])['value']:.4f}" for key in ("gross", "deducted", "net")]
        rows.append([_called(one["name"]), words(one["kind"]), *masses, named(one["metal"], names)])
    notes = [f"  {_called(one['name'])}: {note}" for one in lots for note in one["notes"]]
    return "\n".join(
        [
            table(f"LOTS in {asked(lots[0]['gross'])['unit']}", rows, ("", "kind", "gross", "taken off", "net", "")),
            *notes,
        ]
    )


def _called(name: str) -> str:
    """The name of a lot; one that was given none goes by its kind, which is a code."""
    return words(name) if name in set(Scrap) else name


def span(value: Json) -> str:
    """A range as it is, or the number where it is one."""
    shown = [value["low"]] if value["value"] is not None else [value["low"], value["high"]]
    return least(value) + " to ".join(f"{one:.2f}" if "currency" in value else f"{one:.4f}" for one in shown)


def _mass(value: Json) -> str:
    """A range of masses in the unit that was asked in."""
    return f"{span(asked(value))} {asked(value)['unit']}"


def _shown(value: Json, unit: str) -> str:
    ends = [value["display"][end][unit] for end in ("low", "high")]
    return " to ".join(mass_in(unit, one) for one in dict.fromkeys(ends))


def _contents(result: Json) -> str:
    unit = asked(result["lots"][0]["gross"])["unit"]
    rows = []
    for one in result["lots"]:
        for content in one["contents"]:
            standing = "assayed" if content["assayed"] else "not assayed"
            label = f"{content['metal']} in {_called(one['name'])}"
            rows.append([label, *_fine(content["contained"], content["recovered"]), standing])
    for symbol, contained in result["contents"].items():
        rows.append([f"{symbol} IN ALL", *_fine(contained, result["recovered"][symbol]), ""])
    return table("FINE CONTENTS", rows, ("", "g", "dwt", "ozt", f"expected back, {unit}", ""))


def _fine(held: Json, recovered: Json) -> list[str]:
    return [span(held), _shown(held, "dwt"), _shown(held, "ozt"), span(asked(recovered))]


def _offer(one: Json) -> str:
    parts = []
    for lot in one["lots"]:
        parts.append(_lot(lot))
    text = f"OFFER: {one['offer']}\n" + "\n".join(parts)
    if one["settlement"] is None:
        return f"{text}\n  No prices were given, so no money is shown."
    if one["sending_cost"]["high"]:
        text += f"\n  less sending: {span(one['sending_cost'])} {one['sending_cost']['currency']}"
    settlement = one["settlement"]
    return f"{text}\n  SETTLEMENT: {span(settlement)} {settlement['currency']}\n  {_break_even(one['break_even'])}"


def _lot(lot: Json) -> str:
    names = ", ".join(map(_called, lot["lots"]))
    if not lot["taken"]:
        return f"  {names}: lighter than the least lot, not taken."
    if not lot["metals"]:
        return f"  {names}: nothing in it is paid for."
    rows = []
    for one in lot["metals"]:
        ends = [f"{one[f'fine_ounces_{end}']:.5f}" for end in ("low", "high")]
        ounces = f"{' to '.join(dict.fromkeys(ends))} ozt"
        rows.append([f"{one['metal']} payable", ounces, span(one["worth"]) if one["worth"] else "no price"])
    rows += [[label, "", span(lot[key])] for label, key in LINES if lot[key] is not None and lot[key]["high"]]
    shown = table(f"  {names}", [[*row, ""] for row in rows], ("", "fine", "money", ""))
    return "\n".join([shown, *(f"    {note}" for note in lot["notes"])])


def _break_even(one: Json) -> str:
    """The decision, and the sizes at which it turns."""
    sure = one["share_paid_low"] == one["share_paid_high"]
    never = "at no size" if sure else "at no size for certain"  # a range may pay with the most it holds
    sizes = never if one["from_mass"] is None else f"from {_mass(one['from_mass'])} gross"
    if one["from_mass"] is not None and not one["from_mass"]["high"]:
        sizes = "at any size"
    if one["until_mass"] is not None:
        sizes += f" until {_mass(one['until_mass'])}"
    return f"{words(one['decision']).upper()}: sending pays {sizes}. {one['rule']}"


def _comparison(one: Json | None) -> str:
    if one is None:
        return ""
    if one["best"]:
        first = f"{one['best']} pays the most, by {span(one['lead'])} {one['lead']['currency']}"
    else:
        depends = "contents" if one["best_low"] != one["best_high"] else "prices that are missing; by those given"
        first = f"It depends on the {depends}: {one['best_low']} if low, {one['best_high']} if high"
    lines = [f"WHICH OFFER\n  {first}."]
    for flip in one["flips"]:
        below = flip["below"] or "none"
        when = "" if flip["scenario"] == "both" else f" ({flip['scenario']} contents)"
        lines.append(f"  Below {both_ways(flip['mass'])} gross {below}, above it {flip['above']}{when}.")
    return "\n".join(lines)


def _unpriced(symbols: Sequence[str]) -> list[str]:
    return [f"not priced, so not counted: {', '.join(symbols)}"] if symbols else []
