"""Answers as a person reads them: the order sheet, and plain tables for the rest."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from tabulate import tabulate

from alloyref.cli.colour import caution
from alloyref.cli.layout import (
    RULE,
    Json,
    aligned,
    cautions_of,
    dataset_line,
    ends,
    in_digits,
    mass_headers,
    mass_row,
    money,
    named,
    names_in,
    rests_on,
    table,
    words,
)
from alloyref.domain.calculation import Record, items
from alloyref.domain.figures import as_asked, asked, both_ways, mass_cells
from alloyref.domain.sheet_words import (
    bought,
    held_against,
    mark_rows,
    mark_warning,
    on_the_arm,
    to_be_sure,
    weighed,
    weighed_in,
)
from alloyref.services.calculations import CALCULATIONS


def sheet(name: str, answer: Json) -> str:
    """The answer of a calculation as text."""
    if name == "order":
        return order_sheet(answer)
    entries = list(_entries(CALCULATIONS[name].result, answer["result"]))
    rows = [[label, *_cells(value)] for label, value in entries if not isinstance(value, list)]
    parts = [aligned(rows)]
    parts += [_listing(label.upper(), value) for label, value in entries if isinstance(value, list) and value]
    if answer["assumptions"]:
        parts.append(rests_on(answer["assumptions"]))
    if answer["cautions"]:
        parts.append(cautions_of(answer["cautions"]))
    return "\n\n".join([*parts, dataset_line(answer)])


def _entries(type_: type, result: Json) -> Iterator[tuple[str, Any]]:
    """Each value of the result by its label, and those of a part that was asked for under its name."""
    for one in items(type_).values():
        name, value = one.name.replace("_", " "), result[one.name]
        if not isinstance(one.kind, Record) or "unit" in (value or ()):
            yield name, value
        elif value is not None:
            yield from ((f"{name}: {key.replace('_', ' ')}", inner) for key, inner in value.items())


def _listing(title: str, entries: Sequence[Any]) -> str:
    """The entries of a list below one another: sentences as lines, records as a table."""
    if not isinstance(entries[0], Mapping):
        return "\n".join([title, *(f"  {one}" for one in entries)])
    headers = [key.replace("_", " ") for key in entries[0]]
    rows = [[_short(inner) for inner in one.values()] for one in entries]
    columns = ([one[key] for one in entries] for key in entries[0])
    align = ["right" if all(map(_is_number, column)) else "left" for column in columns]
    body = tabulate(rows, headers=headers, tablefmt="plain", disable_numparse=True, colalign=align)
    return f"{title}\n" + "\n".join("  " + line for line in body.splitlines())


def _cells(value: Any) -> list[str]:
    if value is None:
        return ["not available"]
    if isinstance(value, Mapping):
        if "value" not in value:
            return [", ".join(f"{name} {_short(inner)}" for name, inner in value.items())]
        inner = asked(value)
        shown = f"{in_digits(inner['value'])} {inner['unit']}".removesuffix(" 1")
        return [shown, _range(inner), _display(value)]
    return [in_digits(value)]


def _short(value: Any) -> str:
    """A value within a table."""
    if isinstance(value, Mapping):
        value = asked(value)
        span = _range(value) if value.get("low") != value.get("high") else ""
        return f"{in_digits(value['value'])} {value['unit']}" + (f" ({span})" if span else "")
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "unknown" if value is None else in_digits(value)


def _is_number(value: Any) -> bool:
    """Whether a value is shown as a number, with or without its unit."""
    return isinstance(value, (int, float)) or (isinstance(value, Mapping) and "unit" in value)


def _range(value: Json) -> str:
    return ends(value) if "low" in value else ""


def _display(value: Json) -> str:
    shown = value.get("display") or ({value["unit"]: value["value"]} if "in_unit" in value else {})
    return " = ".join(f"{shown[unit]} {unit}" for unit in shown)


def order_sheet(answer: Json) -> str:
    """The order sheet: what to weigh, what to buy, what comes back, the books, and the casting slip."""
    result, names = answer["result"], names_in(answer["inputs"])
    pieces = ", ".join(f"{line['pieces']} x {line['name']}" for line in result["lines"])
    final = answer["inputs"]["final_metal"]
    parts = [
        f"ORDER SHEET: {pieces}\nto be cast in {final['name']} ({final['id'] or 'given composition'}), "
        f"{final['density']['value']:g} g/cm3 ({final['density']['status']})\n{weighed(answer['inputs'])}".rstrip()
        + f"\n{RULE}",
        caution(warning) if (warning := mark_warning(answer["assumptions"])) else "",
        _look_again(result["warnings"]),
        _pieces(result),
        _checks(result["checks"]),
        table("MAY BE MARKED", mark_rows(result["mark"])) if result["mark"] else "",
        _charge(result),
        _to_buy(result["to_buy"], as_asked(answer["inputs"]["purchase"]["increment"]), names),
        _returns(result["returns"]),
        _money(result["cost"]),
        _books(result["balance"]) + f"\n{RULE}",
        _slip(result["casting_slip"], names) + f"\n{RULE}",
        rests_on(answer["assumptions"]),
        cautions_of(answer["cautions"]),
        dataset_line(answer),
    ]
    return "\n\n".join(part for part in parts if part)


def _pieces(result: Json) -> str:
    rows = []
    for line in result["lines"]:
        rows.append(mass_row(f"{line['name']}, as cast", line["piece_mass"]))
        rows.append(mass_row(f"{line['name']}, finished", line["finished_mass"]))
        if line["gross_mass"]["value"] != line["finished_mass"]["value"]:
            rows.append(mass_row(f"{line['name']}, finished, with its stones", line["gross_mass"]))
    return table("ONE PIECE", rows, mass_headers(result["piece_mass"]))


def _look_again(warnings: Sequence[str]) -> str:
    return "\n".join([caution("LOOK AGAIN"), *(f"  {one}" for one in warnings)]) if warnings else ""


def _checks(checks: Sequence[Json]) -> str:
    """What each of several ways in says of a piece."""
    rows = [mass_row(f"{one['line']}, by its {one['way']}", one["piece_mass"], held_against(one)) for one in checks]
    return table("ONE PIECE AS CAST, BY EACH WAY", rows, mass_headers(checks[0]["piece_mass"])) if rows else ""


def _charge(result: Json) -> str:
    parts = result["charge_parts"]
    castings = sum(line["castings"] for line in result["lines"])
    rows = [mass_row("CHARGE: weigh into the crucible", result["charge"])]
    for label, key in (
        (f"of it {castings} castings", "castings"),
        ("sprue and button", "sprue_and_button"),
        ("safety", "safety"),
        ("melt loss", "melt_loss"),
    ):
        if parts[key]["value"]:
            rows.append(mass_row(f"  {label}", parts[key]))
    rows += [[f"  {symbol} in it", *mass_cells(mass, 1)] for symbol, mass in result["elements"].items()]
    return table("THE CHARGE", rows, mass_headers(result["charge"]))


def _to_buy(to_buy: Json, step: str, names: Mapping[str, str]) -> str:
    rows = [mass_row("TO BUY", to_buy)]
    for one in to_buy["items"]:
        cost = money(one["cost"]) if one["cost"] else ""
        rows.append(mass_row(f"  {bought(one, named(one['metal'], names))}", one["mass"], cost))
    for lot in to_buy["on_hand"]:
        rows.append(mass_row(f"  on hand, used: {named(lot['metal'], names)}", lot["used"], lot["reason"]))
    title = f"FROM THE SUPPLIER ({words(to_buy['form'])}, in steps of {step})"
    lines = [table(title, rows, mass_headers(to_buy)), to_be_sure(to_buy), weighed_in(to_buy)]
    return "\n  ".join(line for line in lines if line)


def _returns(returns: Json) -> str:
    rows = [mass_row("COMES BACK", returns)]
    for lot in returns["items"]:
        worth = f"worth {money(lot['worth'])}" if lot["worth"] else ""
        rows.append(mass_row(f"  {words(lot['kind'])}", lot["mass"], worth))
    return table("AFTER CASTING", rows, mass_headers(returns))


def _money(cost: Json | None) -> str:
    if cost is None:
        return "MONEY\n  No prices were given, so no cost is shown."
    rows = [
        [label, money(cost[key]) if cost[key] else "not known"]
        for label, key in (
            ("to pay the supplier", "total"),
            ("worth of metal on hand that goes in", "on_hand_worth"),
            ("worth of what is left over", "left_over_worth"),
            ("worth of what comes back", "returns_worth"),
            ("net metal: paid and on hand, less what is left over and comes back", "net"),
            ("net metal in one piece of the main line", "per_piece"),
        )
    ]
    notes = [*cost["quotes"]]
    if cost["unpriced"]:
        notes.append(f"not priced, so not counted: {', '.join(cost['unpriced'])}")
    return table("MONEY", [*rows, *([note, ""] for note in notes)])


def _books(balance: Json) -> str:
    rows = [
        [name, *(f"{account[key]:.4f}" for key in ("in", "pieces", "returns", "loss", "difference"))]
        for name, account in (("all metal", balance["total"]), *balance["elements"].items())
    ]
    return table("BOOKS in g", rows, ("", "in", "pieces", "returns", "loss", "difference", ""))


def _slip(slip: Json, names: Mapping[str, str]) -> str:
    rows = [
        ["metal", named(slip["metal"], names)],
        ["charge", both_ways(slip["charge"])],
        ["method", slip["method"]],
    ]
    for label, key in (
        ("solidus", "solidus"),
        ("liquidus", "liquidus"),
        ("pouring window", "pouring_window"),
        ("flask", "flask_temperature"),
    ):
        value = slip[key]
        if value is None:
            continue
        span = f"{ends(value)} C, {ends(value['in_fahrenheit'])} F"
        known = (
            f"{value['value']:g} C, {value['in_fahrenheit']['value']:g} F ({_standing(value, span)})"
            if key in ("solidus", "liquidus")
            else span
        )
        rows.append([label, known])
    rows.append(["investment", slip["investment"]])
    if slip["arm"]:
        rows.append(["load on the arm", on_the_arm(slip["arm"])])
    rows += [["bench", note] for note in slip["bench_notes"]]
    rows += [["not known", blank] for blank in slip["not_available"]]
    return table("CASTING SLIP", rows)


def _standing(value: Json, span: str) -> str:
    """The standing of a figure, with its range if it has one."""
    return value["status"] if value["low"] == value["high"] else f"{value['status']}, {span}"
