"""The calculations of the service as methods, so that help and completion show them.

What each takes and gives is the service's to say; a test holds these words to its declarations.
"""

from __future__ import annotations

from typing import Any

from alloyref.client.values import Answer


class Calculations:
    """A method for each calculation; with `record` the service keeps a record, whose id is in the answer.

    A trailing underscore frees a word that Python keeps for itself: `from_`. An input that the service does not
    know is refused by it, with the nearest that it does.
    """

    def _calculation(self, name: str, /, *, record: bool = False, **inputs: Any) -> Answer:
        raise NotImplementedError

    def mass(self, *, record: bool = False, **inputs: Any) -> Answer:
        """Exact conversion between units of mass: grams, pennyweights, troy ounces, carats, tolas and more. Inputs:

        - value: (needed) The number to convert.
        - from_: (needed) The unit it is in.
        - to: (needed) The unit it is wanted in.
        - decimals: Round to this many decimals. Without it, an ending decimal is given exactly and any other to
          15 digits.
        - rounding: How to round: half to even, down (payable fine ounces), or up.

        The result has mass.
        """
        return self._calculation("mass", record=record, **inputs)

    def purity(self, *, record: bool = False, **inputs: Any) -> Answer:
        """Karat, permille, percent and fraction by arithmetic, with the legal marks nearest to it. Inputs:

        - value: (needed) The number to convert.
        - from_: (needed) The scale it is in.
        - to: (needed) The scale it is wanted in.
        - metal: Whose marks to look among.
        - decimals: Round to this many decimals. Without it, an ending decimal is given exactly and any other to
          15 digits.
        - rounding: How to round: half to even, down, or up.

        The result has purity, nearest_marks.
        """
        return self._calculation("purity", record=record, **inputs)

    def transfer(self, *, record: bool = False, **inputs: Any) -> Answer:
        """One cavity, two metals: what a trial casting weighs in the final metal, with its range. Inputs:

        - mass: (needed) Mass in the first metal.
        - from_metal: (needed) The metal it was cast in.
        - to_metal: (needed) The metal it will be cast in.
        - to_unit: Unit of `in_unit`, and of the text form; in a query, the unit given.
        - readability: Smallest step of the balance; widens the range by half a step.
        - contraction_from: Linear contraction of the first metal on solidifying and cooling.
        - contraction_to: Linear contraction of the second metal.

        The result has mass, ratio, in_unit.
        """
        return self._calculation("transfer", record=record, **inputs)

    def stock(self, *, record: bool = False, **inputs: Any) -> Answer:
        """Sheet, strip, wire, tube, discs, ring blanks and granules: from one of mass, length and pieces the
        others. Inputs:

        - form: (needed) What it is.
        - metal: (needed) What it is made of.
        - thickness: Thickness of sheet, strip, disc or blank; side of square wire; height of half-round.
        - width: Width of sheet, strip, blank, rectangular or half-round wire.
        - diameter: Diameter of round wire, disc or granule; outside diameter of tube.
        - inside_diameter: Inside diameter of tube, or of the ring a blank is for.
        - wall: Wall of tube, instead of its inside diameter.
        - gauge: Gauge number, in place of the diameter of round wire or the thickness of what is flat or square.
        - gauge_system: Which gauge: AWG and B&S are the same, SWG is another.
        - mass: How much metal there is.
        - length: Or how long the stock is.
        - pieces: Or how many pieces.
        - piece_length: Length of one piece, where sheet, strip, wire or tube is cut into pieces.

        The result has answer, mass, length, pieces, whole_pieces, piece_mass, mass_per_metre, volume,
        dimensions.
        """
        return self._calculation("stock", record=record, **inputs)

    def ring(self, *, record: bool = False, **inputs: Any) -> Answer:
        """Converts ring sizes, and gives the length of a blank, the mass of a band, or what resizing takes. Inputs:

        - action: (needed) Convert the size, length of a blank, mass of a band, or resize.
        - size: (needed) Ring size as its system writes it: 7 1/4, N 1/2, 54, or millimetres.
        - system: (needed) The system of the size.
        - to_size: Resize: the size wanted.
        - to_system: Convert: the system wanted (all are given anyway). Resize: that of the size wanted.
        - profile: Section: flat; D (flat inside, an arc outside); half-round (half an ellipse); court (an
          ellipse).
        - width: Width of the band.
        - thickness: Thickness of the band at its thickest.
        - metal: Metal of the band.
        - allowance: Blank: extra length, such as for a wide band.
        - method: Resize: insert a piece or stretch to go up, cut a piece out to go down; insert and cut unless
          said.

        The result has answer, inside_diameter, inside_circumference, sizes, blank, band, resize, warnings.
        """
        return self._calculation("ring", record=record, **inputs)

    def order(self, *, record: bool = False, **inputs: Any) -> Answer:
        """From a trial, a pattern or a model volume to the charge, what to buy, what comes back, and a casting
        slip. Inputs:

        - final_metal: (needed) The metal of the final casting.
        - name: What the piece is.
        - trial: The trial casting, as weighed.
        - pattern: A wax or resin pattern, as weighed: used alone, else a check.
        - volume: The volume of the model of one piece: used if there is no trial, else a check.
        - pieces: How many good pieces are wanted.
        - spares: Extra castings as insurance.
        - others: Other pieces in the same flask.
        - stones: Stones set in each weighed piece, or drawn in the model.
        - stones_to_set: Stones to be set after casting: they count in the finished gross mass only, and no metal
          is taken off.
        - final_contraction: Linear contraction of the final metal, if known.
        - allowances: Sprue, button, losses and safety.
        - on_hand: Metal in the shop that may be used.
        - purchase: How the rest is bought.
        - prices: Prices quoted to you.
        - casting: How it will be cast.
        - mark: The mark that the work is to bear: 585, 14K, 22 ct, sterling, Pt950. Without it, the highest
          lawful mark of the final metal is told.
        - jurisdiction: Where it is to be marked; every place whose rules are known here without it.

        The result has piece_mass, finished_mass, castings, charge, charge_parts, to_buy, elements, cost,
        returns, balance, lines, casting_slip, checks, warnings, mark.
        """
        return self._calculation("order", record=record, **inputs)

    def recovery(self, *, record: bool = False, **inputs: Any) -> Answer:
        """Lots to fine contents, expected recovery and payable metal; the settlement under each offer, which one
        pays more and from what size on, and when sending beats holding. What was not assayed is a range, not a
        number. Inputs:

        - lots: The lots.
        - order_returns: More lots: an order's answer, its `result.returns`, or the `items` of that.
        - terms: The offers.
        - prices: Prices of the fine metals quoted to you; none is ever invented.
        - holding: What the metal is worth to you if you keep it, as a share of its price (0.9 if not given).

        The result has contents, recovered, offer, payable, settlement, break_even, lots, settlements,
        comparison, unpriced, quotes, notes.
        """
        return self._calculation("recovery", record=record, **inputs)

    def estimate(self, *, record: bool = False, **inputs: Any) -> Answer:
        """Density, melting range, karat and fineness of any composition, with the marks and alloys nearest to it.
        Inputs:

        - composition: (needed) Shares in permille by mass, summing to 1000: an object, or one line of text.
        - property: Which one `number` and the text form give.

        The result has metal, density, solidus, liquidus, karat, fineness, nearest_marks, nearest_alloys,
        not_available, property, number.
        """
        return self._calculation("estimate", record=record, **inputs)

    def density_test(self, *, record: bool = False, **inputs: Any) -> Answer:
        """Density with its uncertainty, the alloys and karats that agree with it, and what it cannot tell. Inputs:

        - weighings: (needed) One pair of readings, or several of the same piece.
        - liquid: The liquid; clean water if left out.
        - temperature: Temperature of the liquid, read to within 1 C; water is held from 0 to 40 C.
        - readability: Smallest step of the balance; without it that of the last digit read, noughts too.
        - air_density: Density of the air.
        - suspension: Reading of the empty wire or basket in the liquid, where it was not tared; taken off each
          reading.

        The result has density, standard_uncertainty, coverage_factor, uncertainty_parts, volume, liquid_density,
        pairs, candidates, other_likelihood, agreeing, gold, cannot_tell.
        """
        return self._calculation("density-test", record=record, **inputs)

    def alter_fineness(self, *, record: bool = False, **inputs: Any) -> Answer:
        """How much fine metal, other lot or alloying metal brings a lot to a fineness, a karat or a mark. Inputs:

        - mass: (needed) Mass of the lot, or of both together.
        - mass_of: Whose mass that is: the lot's, or what lot and addition shall weigh together.
        - metal: What the lot is.
        - fineness: Or only its fineness; its composition is then not known.
        - target: The fineness wanted. Karat is arithmetic: 14 karat is 583.333 permille.
        - mark: Or the mark to reach: 585, 14K, sterling.
        - jurisdiction: Whose mark it is; needed for a karat or a word.
        - base: Which metal's fineness counts; without it the lot's own, or gold.
        - with_metal: What is added: a fine metal, a master alloy, another lot's metal.
        - with_fineness: Or only its fineness (0 permille: alloying metal). Without either, fine metal raises and
          alloying metal of no fineness lowers.
        - step: Weighing step: the addition is brought to it so that the fineness never falls short of the
          target, up when raising and down when lowering.
        - to_unit: Unit of `add_in_unit` and of the text form; in a query, the unit given.

        The result has action, lot, add, add_in_unit, total, base, fineness, karat, composition, nearest_marks.
        """
        return self._calculation("alter-fineness", record=record, **inputs)

    def mark_check(self, *, record: bool = False, **inputs: Any) -> Answer:
        """An assay or a metal against a fineness mark: a verdict for each rule with its article, by how much it
        misses, and the highest lawful mark. Not legal advice; the assay office or regulator decides. Inputs:

        - metal: The metal. Without an assay its nominal composition is judged; with one it tells what else is in
          it.
        - assay: Assay of the article melted as one piece, with any solder, in permille of the precious metal.
        - part_assay: Soldered: assay of a part that is free of solder, in permille.
        - uncertainty: Half-width of each assay's range, in permille.
        - of: Which precious metal; told by the metal or the mark where they can.
        - mark: The mark: 585, .583, 14K, 22 ct, sterling, Pt950. Without it, only the highest lawful mark is
          told.
        - jurisdiction: Where; all that are known here without it.
        - soldered: Whether it has solder joints.
        - solder: The solder, if known.
        - solder_share: Solder as a share of the article's mass: the assay of the whole is then reckoned.
        - article: What kind of article.
        - white: Whether it is white gold; told by a catalogue alloy.
        - mass: Its precious metal without stones, for the weight below which no hallmark is needed; all its
          metal where base metal is part of it.

        The result has of, verdict, assay, part_assay, jurisdictions, limits, notes.
        """
        return self._calculation("mark-check", record=record, **inputs)

    def charge(self, *, record: bool = False, **inputs: Any) -> Answer:
        """From lots and shelf metals to the cheapest lawful recipe that can be weighed, or to what stands in its
        way. Inputs:

        - target: (needed) What it shall weigh and be.
        - lots: Lots in the shop.
        - shelf: Metals and master alloys that can be had.
        - max_scrap_share: Most scrap in the charge, as a share of it; without it there is no such limit.
        - step: Weighing step: each mass is a whole number of it, but for a lot that is used up.
        - currency: Currency of all prices, as an ISO 4217 code.
        - prices: Quotes for what has no price of its own: a quote for that very metal, else those for its
          elements.

        The result has possible, summary, least, recipe, mass, cost, least_cost, within, fine_bought,
        fine_within, base, fineness, nearest_marks, composition, elements, density, solidus, liquidus, windows,
        limits, left_out, changes, notes.
        """
        return self._calculation("charge", record=record, **inputs)

    def contents(self, *, record: bool = False, **inputs: Any) -> Answer:
        """How much fine gold, silver, platinum and more a mass of metal holds, by its composition. Inputs:

        - mass: (needed) Mass of the piece or lot, without stones.
        - metal: (needed) The metal: by id, or by its composition, such as an assay gives.

        The result has gold, silver, platinum, palladium, rhodium, iridium, ruthenium, precious.
        """
        return self._calculation("contents", record=record, **inputs)
