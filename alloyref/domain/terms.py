"""Terms of the trade that sheets and forms use, in plain words: common usage, no source."""

from __future__ import annotations

TERMS: dict[str, str] = {
    "trial": "A proof casting in a cheaper metal. Its weight tells what the same piece weighs in another metal.",
    "charge": "All the metal that is weighed into the crucible for one melt.",
    "sprue": "The channel that the metal runs through into the mould; it is cut off the casting and comes back.",
    "button": "The metal that is left over at the top of the sprue. Its weight pushes metal into the mould.",
    "melt loss": "Metal that burns off or stays in the crucible while it is molten. It does not come back.",
    "finishing loss": "What filing, sanding and polishing take off the casting.",
    "lemel": "Filings and dust of precious metal, swept up at the bench. They are refined, not melted in again.",
    "sweeps": "Floor dust, polishing dust, old crucibles and the like, with a little precious metal in it.",
    "spare castings": "Castings made beyond what was ordered, because not each one comes out good.",
    "scrap": "Metal that was cast or worked before. Clean scrap of a known alloy goes back into the crucible.",
    "master alloy": "The metals other than the fine one, mixed ready, to which fine metal is added.",
    "fine": "Not alloyed: as pure as it is sold.",
    "fineness": "The share of the precious metal by weight, in parts of a thousand (‰).",
    "karat": "Fineness of gold in parts of 24: 18 karat is 750 ‰.",
    "solidus": "The temperature at which an alloy begins to melt.",
    "liquidus": "The temperature at which an alloy is wholly liquid.",
    "pouring window": "How hot to pour: the liquidus and some more, so that the metal fills the mould.",
    "flask": "The steel ring with the mould in it. Its temperature when the metal is poured matters for thin places.",
    "investment": "The plaster-like mass that the mould is made of.",
    "gross": "As weighed, with all that is not metal.",
    "net": "Of a weight: without what is not metal. Of money: what is paid and put in, less what comes back.",
    "net metal": "The supplier's bill and the metal from the drawer, less what stays over and what comes back.",
    "net a piece": "Net metal shared out over the pieces: what the metal of one costs in the end. No work is in it.",
    "balance step": "The smallest difference that a balance shows, such as 0.01 g.",
    "lot": "Metal that is kept, weighed or settled together.",
    "assay": "A measurement of what metal is in a lot.",
    "settlement": "What the refiner pays for a lot after all charges.",
    "break-even": "The size of a lot from which on sending it brings more than it costs.",
    "standing": "How well a figure is known, from standard to from memory (alloyref help standings).",
}


def terms(*names: str) -> list[tuple[str, str]]:
    """The terms of those names with what they mean; `KeyError` for one that is not explained here."""
    return [(name, TERMS[name]) for name in names]
