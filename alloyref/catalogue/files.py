"""Where the data files lie, and the hash of what is in them."""

from __future__ import annotations

import hashlib
from functools import cache
from pathlib import Path

CODE = Path(__file__).resolve().parent.parent
HASH_LENGTH = 16


def shipped(packaged: str, in_checkout: str) -> Path:
    """What goes along with the code: a path inside an installed package, or one beside it in a checkout."""
    path = CODE / packaged
    return path if path.exists() else CODE.parent / in_checkout


def data_folder() -> Path:
    """The folder of the data files: inside an installed package, or beside it in a checkout."""
    folder = shipped("_data", "data")
    if not (folder / "dataset.toml").is_file():
        raise FileNotFoundError(f"the reference data are missing: no dataset.toml in {folder}")
    return folder


def tables_of(folder: Path) -> list[Path]:
    """Every table of the data, in a stable order."""
    return sorted([*folder.glob("*.csv"), *folder.glob("publications/*.csv")])


def table_files(folder: Path) -> list[Path]:
    """Every file that counts as data, in a stable order: the tables and what is said about them."""
    return sorted([*tables_of(folder), folder / "dataset.toml"])


def content_hash(folder: Path, code: str | None = None) -> str:
    """Hash of the data files and of the code that derives values from them: it changes when a served value may.

    The code is told by its own hash: today's, or that of the program which left the files.
    """
    text = _hash(folder, table_files(folder))
    return hashlib.sha256(f"{text}\0{code or code_hash()}".encode()).hexdigest()[:HASH_LENGTH]


@cache
def code_hash() -> str:
    """Hash of the modules that turn text into served values: reading, preferring, and the metal data model."""
    return _hash(CODE, sorted([*(CODE / "catalogue").glob("*.py"), *(CODE / "domain").glob("*.py")]))


def tables_hash(folder: Path) -> str:
    """Hash of the tables alone, as `dataset.toml` keeps it beside the version."""
    return _hash(folder, tables_of(folder))


def _hash(root: Path, paths: list[Path]) -> str:
    """Hash of files by their path below a root; line ends do not count."""
    digest = hashlib.sha256()
    for path in paths:
        content = path.read_bytes().replace(b"\r\n", b"\n")
        digest.update(f"{path.relative_to(root).as_posix()}\0{len(content)}\0".encode())
        digest.update(content)
    return digest.hexdigest()[:HASH_LENGTH]
