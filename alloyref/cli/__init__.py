"""The command line: thin commands over the same declarations and services as HTTP."""

from alloyref.cli.main import main

__all__ = ["main"]
