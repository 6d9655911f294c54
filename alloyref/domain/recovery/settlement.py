"""What a refiner pays for lots under his terms; each scenario (least and most contents) by itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_DOWN, Decimal
from functools import cached_property

from alloyref.domain.estimate import ONE, ZERO
from alloyref.domain.numbers import EXACT, round_to
from alloyref.domain.recovery.contents import BOOK_DECIMALS, NOTHING, Ends, Weighed
from alloyref.domain.recovery.inputs import MetalTerms, Offer
from alloyref.domain.recovery.piecewise import Payout, Slope
from alloyref.domain.recovery.results import MetalAccount
from alloyref.domain.recovery.splitting import settled
from alloyref.domain.reference import Reference
from alloyref.domain.units import Dimension

OUNCE_STEP = Decimal("0.001")
LOW, HIGH = "low", "high"
SCENARIOS = (LOW, HIGH)
SILVER_UNPAID = (
    "Silver in the gold scrap is not counted: many offers do not pay for it. "
    "If this one does, say so (silver_in_karat_scrap)."
)


@dataclass(frozen=True, slots=True)
class PaidMetal:
    """One metal of one melt in one scenario: the account in g, what is payable before rounding, fine ounces."""

    terms: MetalTerms
    account: MetalAccount
    unrounded: Decimal
    ounces: Decimal


@dataclass(frozen=True, slots=True)
class Charges:
    """The money of one melt in one scenario, each line to the cent; net = worth less all the others."""

    worths: dict[str, Decimal]
    fee: Decimal
    lot: Decimal
    treatment: Decimal
    refining: Decimal
    to_minimum: Decimal

    @property
    def worth(self) -> Decimal:
        """Payable metal at the prices given."""
        return sum(self.worths.values(), ZERO)

    @property
    def net(self) -> Decimal:
        """What is paid."""
        return self.worth - self.fee - self.lot - self.treatment - self.refining - self.to_minimum


@dataclass(frozen=True)
class Melt:
    """Lots that are melted and charged as one under an offer."""

    offer: Offer
    lots: tuple[Weighed, ...]
    reference: Reference

    @property
    def gross(self) -> Decimal:
        """Mass received, in g."""
        return sum((one.lot.mass for one in self.lots), ZERO)

    @property
    def taken(self) -> bool:
        """Whether it is heavy enough."""
        return self.offer.minimum_lot is None or self.gross >= self.offer.minimum_lot

    def notes(self) -> tuple[str, ...]:
        """How differing assays were settled, and that silver named in the terms is not paid for where it is not."""
        told = [settled(lot, terms, self.offer.umpire_rule)[1] for terms in self.offer.pays for lot in self.lots]
        silver = any(one.terms.metal == "Ag" and one.account.not_paid_for for one in self.metals(HIGH))
        return tuple(note for note in [*told, SILVER_UNPAID if silver else ""] if note)

    def leaves_out(self, prices: dict[str, Decimal]) -> bool:
        """Whether something that is paid for has no price."""
        return any(one.account.payable and one.terms.metal not in prices for one in self.metals(HIGH))

    def metals(self, scenario: str) -> tuple[PaidMetal, ...]:
        """Each metal that is named in the terms and may be in it."""
        return self._metals[scenario]

    @cached_property
    def _metals(self) -> dict[str, tuple[PaidMetal, ...]]:
        most = {terms: self._paid(terms, HIGH) for terms in self.offer.pays}
        held = {terms: paid for terms, paid in most.items() if paid.account.contained}
        return {LOW: tuple(self._paid(terms, LOW) for terms in held), HIGH: tuple(held.values())}

    def _paid(self, terms: MetalTerms, scenario: str) -> PaidMetal:
        """payable = contained x recovery x (1 - refining loss) x share paid (masses in g)."""
        contained = recovered = eligible = ZERO
        for lot in self.lots:
            fineness, _ = settled(lot, terms, self.offer.umpire_rule)
            held = _end(lot.contained(terms.metal, fineness), scenario)
            found = _book(held * _end(lot.recovery, scenario))
            contained, recovered = contained + held, recovered + found
            if terms.metal != "Ag" or self.offer.silver_in_karat_scrap or not lot.is_karat_scrap:
                eligible += found
        refined = _book(eligible * (ONE - self.offer.refining_loss))
        unrounded = _book(refined * terms.paid)
        ounces, payable = self._ounces(unrounded)
        account = MetalAccount(
            contained,
            contained - recovered,
            recovered - eligible,
            eligible - refined,
            refined - unrounded,
            unrounded - payable,
            payable,
        )
        return PaidMetal(terms, account, unrounded, ounces)

    def _ounces(self, grams: Decimal) -> tuple[Decimal, Decimal]:
        """Payable fine ounces and the same in g; as they are, or rounded down as good-delivery weight lists are."""
        ounce = self.reference.units.to_base(ONE, "ozt", Dimension.MASS)
        exact = EXACT.divide(grams, ounce)
        if self.offer.rounding == "none":
            return round_to(exact, BOOK_DECIMALS), grams
        ounces = exact.quantize(OUNCE_STEP, rounding=ROUND_DOWN)
        return ounces, ounces * ounce

    def charges(self, scenario: str, prices: dict[str, Decimal]) -> Charges:
        """The money, by prices per gram."""
        metals = self.metals(scenario)
        worths = {
            one.terms.metal: round_to(one.account.payable * prices[one.terms.metal], 2)
            for one in metals
            if one.terms.metal in prices
        }
        treatment = round_to(self.gross * self.per_gram(self.offer.treatment_charge, self.offer.treatment_per), 2)
        refining = round_to(sum((one.account.payable * self._refining(one.terms) for one in metals), ZERO), 2)
        lot = round_to(self.offer.lot_charge, 2)
        short = round_to(self.offer.minimum_charge, 2) - lot - treatment - refining
        fee = round_to(sum(worths.values(), ZERO) * self.offer.fee, 2)
        return Charges(worths, fee, lot, treatment, refining, max(short, ZERO))

    def slope(self, scenario: str, prices: dict[str, Decimal]) -> Slope:
        """Its money by size, before any rounding."""
        metals = self.metals(scenario)
        value = sum((one.unrounded * prices.get(one.terms.metal, ZERO) for one in metals), ZERO)
        refining = sum((one.unrounded * self._refining(one.terms) for one in metals), ZERO)
        treatment = self.gross * self.per_gram(self.offer.treatment_charge, self.offer.treatment_per)
        least = ZERO if self.offer.minimum_lot is None else EXACT.divide(self.offer.minimum_lot, self.gross)
        return Slope(
            value * (ONE - self.offer.fee),
            self.offer.lot_charge,
            treatment + refining,
            self.offer.minimum_charge,
            least,
            sum((_end(held, scenario) * prices[metal] for metal, held in self._all(prices).items()), ZERO),
        )

    def _all(self, prices: dict[str, Decimal]) -> dict[str, Ends]:
        """All metal with a price that it contains, paid for or not, by the assay that settles where one does."""
        found = dict.fromkeys(prices, NOTHING)
        named = {terms.metal: terms for terms in self.offer.pays}
        for lot in self.lots:
            for symbol in found:
                fineness = settled(lot, named[symbol], self.offer.umpire_rule)[0] if symbol in named else None
                found[symbol] = found[symbol].plus(lot.contained(symbol, fineness))
        return found

    def _refining(self, terms: MetalTerms) -> Decimal:
        return self.per_gram(terms.refining_charge, terms.per)

    def per_gram(self, amount: Decimal, unit: str) -> Decimal:
        """An amount for a unit of mass as an amount for a gram."""
        return EXACT.divide(amount, self.reference.units.to_base(ONE, unit, Dimension.MASS))


def _end(ends: Ends, scenario: str) -> Decimal:
    return ends.low if scenario == LOW else ends.high


def _book(mass: Decimal) -> Decimal:
    return round_to(mass, BOOK_DECIMALS)


def melts_of(offer: Offer, lots: Sequence[Weighed], reference: Reference) -> tuple[Melt, ...]:
    """The lots as the refiner melts them: each by itself, or together. Lots without contents are left out."""
    held = tuple(lot for lot in lots if lot.fineness)
    groups = [held] if offer.lots == "together" else [(lot,) for lot in held]
    return tuple(Melt(offer, group, reference) for group in groups)


def payout_of(melts: Sequence[Melt], scenario: str, prices: dict[str, Decimal]) -> Payout:
    """All melts of one offer as money by size."""
    return Payout(tuple(melt.slope(scenario, prices) for melt in melts), melts[0].offer.sending_cost)
