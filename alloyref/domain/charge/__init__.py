"""A charge made up at least cost from lots in the shop and metal on the shelf."""

from alloyref.domain.charge.calculation import CHARGE

__all__ = ["CHARGE"]
