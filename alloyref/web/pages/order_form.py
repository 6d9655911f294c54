"""Which fields of an order the order form shows, and in what words."""

from __future__ import annotations

from alloyref.web.pages.form import Part, Place

PRICE = (
    Place("metal", "Metal"),
    Place("price", "Price"),
    Place("per", "Per"),
    Place("currency", "Currency"),
    Place("date", "Date of the quote"),
)
"""One price as quoted, wherever prices are asked for."""

ORDER = (
    Part(
        "What is wanted",
        (
            Place("/name", "The piece"),
            Place("/final_metal", "To be cast in"),
            Place("/pieces", "Good pieces wanted"),
        ),
    ),
    Part(
        "The trial, as weighed",
        (
            Place("/trial/metal", "Metal of the trial"),
            Place("/trial/mass", "On the balance"),
            Place("/trial/pieces_weighed", "Pieces weighed together"),
            Place("/trial/stage", "Weighed how"),
            Place("/trial/sprue_mass", "Of it sprue and button"),
            Place("/trial/finished_mass", "The same, after finishing"),
            Place("/trial/readability", "Step of the balance"),
        ),
        "Give each mass with its unit, as 6.31 g or 4.06 dwt.",
    ),
    Part(
        "A pattern, or the volume of a model",
        (
            Place("/pattern/mass", "Wax or resin, weighed"),
            Place("/pattern/density", "Its density, if you measured it"),
            Place("/pattern/material", "Else its material"),
            Place("/pattern/pieces_weighed", "Patterns weighed together"),
            Place("/volume", "Or the volume of the model"),
        ),
        "Instead of a trial, or beside it as a check. The trial is used before the volume, the volume before the "
        "pattern.",
        folded=True,
    ),
    Part(
        "Stones set in it",
        (
            Place("mass", "One stone"),
            Place("count", "How many"),
            Place("kind", "Kind"),
        ),
        "Stones are not metal: their mass and their room are taken off.",
        rows="/stones",
        folded=True,
    ),
    Part(
        "Stones still to be set",
        (
            Place("mass", "One stone"),
            Place("count", "How many"),
        ),
        "They were not in what was weighed or drawn: they only add to the finished weight.",
        rows="/stones_to_set",
        folded=True,
    ),
    Part(
        "The mark it is to bear",
        (
            Place("/mark", "Mark"),
            Place("/jurisdiction", "Where"),
        ),
        "As 585, 14K or sterling. Left open, the sheet tells what the metal may be marked, place by place.",
        folded=True,
    ),
    Part(
        "Allowances",
        (
            Place("/allowances/sprue_share", "Sprue and button, share of the castings"),
            Place("/allowances/sprue_mass", "Or weighed"),
            Place("/allowances/button_mass", "Button, in the final metal"),
            Place("/allowances/melt_loss", "Melt loss, share of the charge"),
            Place("/allowances/finishing_loss", "Finishing loss, share as cast"),
            Place("/allowances/safety", "Extra, to be safe"),
        ),
        "As 0.4 or 40 percent. What you leave open is taken from the trade's own figures, and the sheet says so.",
    ),
    Part(
        "Metal on hand",
        (
            Place("metal", "Metal"),
            Place("mass", "Mass"),
            Place("kind", "Kind"),
        ),
        "Only metal of known origin.",
        rows="/on_hand",
        folded=True,
    ),
    Part(
        "Buying",
        (
            Place("/purchase/form", "Bought as"),
            Place("/purchase/increment", "Sold in steps of"),
            Place("/purchase/max_scrap_share", "Most scrap in the charge"),
        ),
        folded=True,
    ),
    Part(
        "Prices quoted to you",
        PRICE,
        "No price is ever invented; without one the sheet shows no cost.",
        rows="/prices",
        folded=True,
    ),
    Part(
        "Spare castings",
        (
            Place("/spares/count", "This many spares"),
            Place("/spares/success_rate", "Or: share that comes out good"),
            Place("/spares/confidence", "How sure to be of enough"),
        ),
        folded=True,
    ),
    Part(
        "Other pieces in the same flask",
        (
            Place("name", "The piece"),
            Place("trial/metal", "Metal of its trial"),
            Place("trial/mass", "Its trial, weighed"),
            Place("volume", "Or volume of its model"),
            Place("pieces", "How many"),
        ),
        rows="/others",
        folded=True,
    ),
    Part(
        "How it will be cast",
        (
            Place("/casting/method", "Method"),
            Place("/casting/flask_mass", "Invested flask"),
            Place("/casting/crucible_mass", "Crucible and cradle"),
            Place("/casting/arm_radius", "Axle to flask"),
            Place("/casting/crucible_radius", "Axle to crucible"),
            Place("/casting/counterweight_radius", "Axle to counterweight"),
        ),
        "Masses and radii are for the arm of a centrifuge.",
        folded=True,
    ),
)
