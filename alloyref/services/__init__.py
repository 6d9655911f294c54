"""Use cases: the reference data and the calculations, joined, in the shape that every face shows."""
