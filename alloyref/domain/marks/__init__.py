"""Is this assay fit for this mark, there: what law asks of a fineness mark, rule by rule."""

from alloyref.domain.marks.calculation import MARK_CHECK

__all__ = ["MARK_CHECK"]
