"""The main job: a trial casting becomes an order for metal, with a charge, a cost and books that close."""

from alloyref.domain.order.calculation import ORDER, order

__all__ = ["ORDER", "order"]
