"""The reference data: strict text files, checked, and read as domain objects."""
