"""Density by weighing in air and in a liquid, what it agrees with, and what it cannot tell."""

from alloyref.domain.density_test.calculation import DENSITY_TEST

__all__ = ["DENSITY_TEST"]
