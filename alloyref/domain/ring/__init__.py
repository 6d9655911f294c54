"""Rings: sizes from one system to another, blanks, the mass of a band, and resizing."""

from alloyref.domain.ring.calculation import RING

__all__ = ["RING"]
