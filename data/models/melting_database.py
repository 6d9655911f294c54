"""The parameters as database text for pycalphad, which holds the table to account."""

from __future__ import annotations

from melting_gibbs import ELEMENTS, read_pieces

HEAD = """ELEMENT VA VACUUM 0 0 0 !
ELEMENT AG FCC_A1 107.8682 5745 42.551 !
ELEMENT AU FCC_A1 196.966569 6016.6 47.4884 !
ELEMENT CU FCC_A1 63.546 5004.1 33.15 !
TYPE_DEFINITION % SEQ *!
PHASE LIQUID % 1 1.0 !
CONSTITUENT LIQUID :AG,AU,CU: !
PHASE FCC_A1 % 2 1 1 !
CONSTITUENT FCC_A1 :AG,AU,CU: VA: !
"""


def database_text() -> str:
    """The whole model as TDB text."""
    pieces: dict[str, list[tuple[float, float, str]]] = {}
    for piece in read_pieces():
        expression = piece.expression
        for symbol in ELEMENTS:
            expression = expression.replace(f"GHSER{symbol}", f"GHSER{symbol}#")
        pieces.setdefault(piece.function, []).append((piece.low, piece.high, expression))
    lines = [HEAD]
    for name, ranges in pieces.items():
        if name.startswith("G"):
            lines.append(f"FUNCTION {name} {_ranges(ranges)}")
    for symbol in ELEMENTS:
        lines.append(f"PARAMETER G(FCC_A1,{symbol}:VA;0) 298.15 +GHSER{symbol}#; 3000 N !")
        lines.append(f"PARAMETER G(LIQUID,{symbol};0) 298.15 +GLIQ{symbol}#; 3000 N !")
    for name, ranges in pieces.items():
        if name.startswith("L("):
            low, high, expression = ranges[0]
            refitted = pieces.get("REFIT" + name.removeprefix("L"))
            total = expression if refitted is None else expression + f"{float(refitted[0][2]):+g}"
            solid = name.replace(";", ":VA;") if "FCC" in name else name
            lines.append(f"PARAMETER {solid} {low} {total}; {high:g} N !")
    return "\n".join(lines) + "\n"


def _ranges(ranges: list[tuple[float, float, str]]) -> str:
    text = f"{ranges[0][0]}"
    for index, (_, high, expression) in enumerate(ranges):
        text += f" {expression}; {high:g} {'N' if index == len(ranges) - 1 else 'Y'}"
    return text + " !"


if __name__ == "__main__":
    print(database_text())
