"""The reference data: strict text files, checked, built into a read-only database, read back as domain objects."""
