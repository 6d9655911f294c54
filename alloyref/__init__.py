"""alloyref: alloy properties with source and uncertainty, and the metal math of a casting shop."""

__version__ = "0.1.0"
