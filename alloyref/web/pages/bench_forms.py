"""Which fields of a density test and of a recovery their forms show, and in what words."""

from __future__ import annotations

from alloyref.web.pages.form import Part, Place
from alloyref.web.pages.order_form import PRICE

DENSITY_TEST = (
    Part(
        "The readings",
        (Place("in_air", "In air"), Place("in_liquid", "In the liquid")),
        "One pair, or several of the same piece: the spread then counts. With their units, as 10.000 g.",
        rows="/weighings",
    ),
    Part(
        "How it was weighed",
        (
            Place("/readability", "Step of the balance"),
            Place("/temperature", "Temperature of the liquid"),
            Place("/suspension", "Empty wire or basket in the liquid"),
            Place("/liquid/name", "Liquid"),
            Place("/liquid/density", "Its density, if it is not water"),
        ),
        "What you leave open is assumed, and the sheet says so.",
    ),
)

RECOVERY = (
    Part(
        "The lots",
        (
            Place("name", "Lot"),
            Place("kind", "What it is"),
            Place("mass", "Gross, as weighed"),
            Place("metal", "Metal, if known"),
            Place("composition", "Or its composition, ‰"),
            Place("stamp", "Or the mark it bears"),
            Place("assay/Au", "Or assayed: gold, ‰"),
            Place("assay/Ag", "Assayed: silver, ‰"),
            Place("other_matter", "Steel, stones and the like in it"),
            Place("recovery", "Comes back from refining, share"),
        ),
        "An order's sheet says what comes back from it: button, sprues, spare castings, lemel.",
        rows="/lots",
    ),
    Part(
        "The offers",
        (
            Place("name", "Refiner, in your words"),
            Place("pays/0/metal", "Pays for"),
            Place("pays/0/paid", "Share paid"),
            Place("pays/0/refining_charge", "Charge per fine ozt"),
            Place("pays/1/metal", "And for"),
            Place("pays/1/paid", "Share paid"),
            Place("silver_in_karat_scrap", "Silver in gold scrap too"),
            Place("lot_charge", "Charge for each lot"),
            Place("treatment_charge", "Charge per kg received"),
            Place("minimum_charge", "Charges are at least"),
            Place("sending_cost", "Sending costs you"),
        ),
        "Amounts are in the currency of the prices.",
        rows="/terms",
    ),
    Part(
        "Prices quoted to you",
        PRICE,
        "No price is ever invented; without one the sheet shows metal and no money.",
        rows="/prices",
    ),
    Part("Sending or holding", (Place("/holding", "Worth of metal you keep, share of its price"),), folded=True),
)
