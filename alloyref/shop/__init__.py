"""What users write: their alloys, prices, records and keys, apart from the read-only reference data."""
