"""Metal that goes back to the refiner: what is in it, what is paid for it, and by whom the most."""

from alloyref.domain.recovery.calculation import RECOVERY

__all__ = ["RECOVERY"]
