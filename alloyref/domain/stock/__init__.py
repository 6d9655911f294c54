"""Stock forms: mass, length and piece count of sheet, wire, tube, discs, blanks and granules."""

from alloyref.domain.stock.calculation import STOCK

__all__ = ["STOCK"]
