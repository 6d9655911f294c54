"""The seal of a version: `dataset.toml` keeps the hash of the tables that its version stands for."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

from alloyref.catalogue.files import tables_hash
from alloyref.catalogue.text import DatasetError, read_text

ABOUT = "dataset.toml"
VERSION = re.compile(r"(\d{4}-\d{2}-\d{2})\.(\d+)")
LINES = re.compile(r'\Aversion = "[^"\n]*"\n(?:hash = "[^"\n]*"\n)?')
"""The head of `dataset.toml`: the version, and the hash of its tables once it is sealed."""


def seal_faults(folder: Path) -> Iterator[str]:
    """What is wrong if the tables are not those that the version was given to."""
    version, sealed = _head(folder)
    if sealed != tables_hash(folder):
        yield (
            f"{ABOUT}: the tables are not those of version {version}, whose hash is {sealed or 'not there'}. Say "
            "under [[changes]] what changed, then raise the version: alloyref dataset seal FOLDER VERSION"
        )


def seal(folder: Path, version: str, *, unissued: bool = False) -> str:
    """Write the version and the hash of the tables into `dataset.toml`; gives the hash.

    Raises `DatasetError` for a version that is not a date with a number, or not later than the present one. The
    present one may be sealed again only if it was never given out (`unissued`).
    """
    present, sealed = _head(folder)
    hash_ = tables_hash(folder)
    again = version == present and (unissued or sealed == hash_)
    if not again and _order(version) <= _order(present):
        raise DatasetError(f"{ABOUT}: the tables changed after version {present}; give a later one than {version}")
    path = folder / ABOUT
    text, found = LINES.subn(f'version = "{version}"\nhash = "{hash_}"\n', read_text(path, folder))
    if not found:
        raise DatasetError(f'{ABOUT}: it begins with the line version = "..."')
    path.write_text(text, encoding="utf-8", newline="\n")
    return hash_


def _head(folder: Path) -> tuple[str, str]:
    """The version and the hash it was sealed with, which may be missing."""
    try:
        about = tomllib.loads(read_text(folder / ABOUT, folder))
        return str(about["version"]), str(about.get("hash", ""))
    except (tomllib.TOMLDecodeError, KeyError) as error:
        raise DatasetError(f"{ABOUT}: {type(error).__name__}: {error}") from None


def _order(version: str) -> tuple[str, int]:
    """What versions are ordered by: the day, then the number on that day."""
    parts = VERSION.fullmatch(version)
    if parts is None:
        raise DatasetError(f"{ABOUT}: a version is a date and a number, such as 2026-11-30.1, not {version!r}")
    return parts[1], int(parts[2])
