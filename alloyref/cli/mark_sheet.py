"""The check of a mark as a sheet."""

from __future__ import annotations

from collections.abc import Sequence

from alloyref.cli.layout import RULE, Json, cautions_of, dataset_line, ends, rests_on, table, words


def mark_sheet(answer: Json) -> str:
    """The verdict of each place, rule by rule, the highest lawful mark, and the limits on other elements."""
    result = answer["result"]
    mark = answer["inputs"]["mark"]
    asked = f"may it be marked {mark}?" if mark else "what may it be marked?"
    parts = [
        f"MARK CHECK: {result['of']}, {_assays(result)}; {asked}\n{RULE}",
        *(_place(one) for one in result["jurisdictions"] if mark or one["also"]),
        _highest(result["jurisdictions"]),
        _limits(result["limits"]),
        "\n".join(result["notes"]),
        rests_on(answer["assumptions"]) if answer["assumptions"] else "",
        cautions_of(answer["cautions"]) if answer["cautions"] else "",
        dataset_line(answer),
    ]
    return "\n\n".join(part for part in parts if part)


def _assays(result: Json) -> str:
    shown = [
        f"{label} {one['value']:g}" + (f" ({ends(one)})" if one["low"] < one["high"] else "")
        for label, one in (("whole", result["assay"]), ("free of solder", result["part_assay"]))
        if one is not None
    ]
    return ", ".join(shown) + " permille"


def _place(one: Json) -> str:
    lines = [f"{one['jurisdiction'].upper()}: {words(one['verdict']).upper()}"]
    if not one["rules"]:
        lines.append(f"  {one['says']}")
    for rule in one["rules"]:
        lines.append(f"  {words(rule['verdict'])}, {words(rule['tests'])}: {rule['says']}")
        law = ", ".join(part for part in (rule["instrument"], rule["article"]) if part)
        lines.append(f"    {law} [{rule['status']}, {rule['source']}]")
        if rule["note"]:
            lines.append(f"    Note: {rule['note']}.")
    if one["within_tolerance"]:
        lines.append(f"  {one['says']}")
    if one["exemption"]:
        lines.append(f"  {one['exemption']}")
    return "\n".join([*lines, *(f"  {also}" for also in one["also"])])


def _highest(places: Sequence[Json]) -> str:
    rows = [
        [
            f"{place['jurisdiction']}, {_joints(one)}",
            one["mark"] or "none",
            one["plan_for"],
            one["provided"] or one["why_none"],
        ]
        for place in places
        for one in place["highest"]
    ]
    return table("HIGHEST LAWFUL MARK", rows, ("", "mark", "plan for", "provided")) if rows else ""


def _joints(one: Json) -> str:
    return "soldered" if one["soldered"] else "no solder"


def _limits(limits: Sequence[Json]) -> str:
    rows = []
    for one in limits:
        where = f"{one['jurisdiction']} {one['element']}"
        rows.append([where, one["article"], f"{one['limit']:g} {one['unit']}", words(one["verdict"]), one["says"]])
    return table("WHAT ELSE IS IN IT", rows, ("", "article", "limit", "verdict", "")) if rows else ""
