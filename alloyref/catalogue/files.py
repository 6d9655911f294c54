"""Where the data files lie, and the hash of what is in them."""

from __future__ import annotations

import hashlib
from pathlib import Path

PACKAGED = Path(__file__).resolve().parent.parent / "_data"
IN_CHECKOUT = Path(__file__).resolve().parent.parent.parent / "data"


def data_folder() -> Path:
    """The folder of the data files: inside an installed package, or beside it in a checkout."""
    folder = PACKAGED if PACKAGED.is_dir() else IN_CHECKOUT
    if not (folder / "dataset.toml").is_file():
        raise FileNotFoundError(f"the reference data are missing: no dataset.toml in {folder}")
    return folder


def table_files(folder: Path) -> list[Path]:
    """Every file that counts as data, in a stable order."""
    return sorted([*folder.glob("*.csv"), *folder.glob("publications/*.csv"), folder / "dataset.toml"])


def content_hash(folder: Path) -> str:
    """SHA-256 over names and contents of the data files: it changes when any served value may."""
    digest = hashlib.sha256()
    for path in table_files(folder):
        content = path.read_bytes().replace(b"\r\n", b"\n")
        digest.update(f"{path.relative_to(folder).as_posix()}\0{len(content)}\0".encode())
        digest.update(content)
    return digest.hexdigest()
