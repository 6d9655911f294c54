"""Colour, for what must not be overlooked. On a terminal only: click takes it off everywhere else."""

from __future__ import annotations

import click


def caution(text: str) -> str:
    """The head of a caution."""
    return click.style(text, fg="yellow", bold=True)


def problem(text: str) -> str:
    """Where something is wrong."""
    return click.style(text, fg="red", bold=True)
