"""The data opened for use, and their text kept for later: a record may be asked again under the data of its day."""

from __future__ import annotations

import logging
import os
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from uuid import uuid4
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from alloyref.catalogue.checks import check
from alloyref.catalogue.files import code_hash, content_hash, table_files
from alloyref.catalogue.reader import Dataset, read_dataset
from alloyref.catalogue.text import DatasetError
from alloyref.domain.reference import Reference

log = logging.getLogger("alloyref")


def open_dataset(data_files: Path, folder: Path) -> Dataset:
    """The data of these files, checked, and kept in `folder`; raises what `ensure_kept` does."""
    ensure_kept(data_files, folder)
    return read_dataset(data_files)


def ensure_kept(data_files: Path, folder: Path) -> Path:
    """The copy of this very text in `folder`, checked and made first if it is not there yet.

    What is there was checked when it was made, by the same code. Raises `DatasetError` with every fault if the data
    do not hold, `OSError` if the folder cannot be written to.
    """
    target = _place(folder, content_hash(data_files))
    if target.is_file():
        return target
    faults = check(read_dataset(data_files))
    if faults:
        raise DatasetError("the data do not hold:\n" + "\n".join(faults))
    folder.mkdir(parents=True, exist_ok=True)
    _write(data_files, target)
    return target


def _write(data_files: Path, target: Path) -> None:
    """Write the copy beside its place and move it there whole, so that two who start at once see no half of it."""
    beside = target.with_name(f"{target.name}.{uuid4().hex}")
    try:
        with beside.open("xb") as stream:
            with ZipFile(stream, "w", ZIP_DEFLATED) as archive:
                archive.comment = code_hash().encode()
                for path in table_files(data_files):
                    # Without the time of writing, so that equal data make equal files.
                    entry = ZipInfo(path.relative_to(data_files).as_posix())
                    archive.writestr(entry, path.read_bytes(), ZIP_DEFLATED)
            stream.flush()
            os.fsync(stream.fileno())
        beside.replace(target)
    finally:
        beside.unlink(missing_ok=True)


def open_held(folder: Path, hash_: str) -> Reference | None:
    """The data of another version, if an earlier program left them in `folder` and this one can read them.

    They are what today's program makes of the text as it was then.
    """
    path = _place(folder, hash_)
    if not path.is_file():
        return None
    try:
        with TemporaryDirectory(prefix="alloyref-held-") as unpacked, ZipFile(path) as archive:
            archive.extractall(unpacked)
            if content_hash(Path(unpacked), archive.comment.decode()) != hash_:
                raise DatasetError(f"{path.name} holds other data than its name says")
            held = read_dataset(Path(unpacked)).reference
    except Exception:
        # Another program wrote it: whatever this one cannot make sense of, it does not hold.
        log.exception("the data of %s cannot be read", path)
        return None
    return replace(held, dataset=replace(held.dataset, hash=hash_))


def _place(folder: Path, hash_: str) -> Path:
    return folder / f"reference-{hash_}.zip"
