"""Configuration by environment variables; README lists them all."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any

from platformdirs import user_data_path
from sqlalchemy import URL

from alloyref.shop.database import address


def default_folder() -> Path:
    """The user's own data folder for this program; `ValueError` for a user who has no home."""
    folder = user_data_path("alloyref", appauthor=False)
    if not folder.is_absolute():  # a ~ that stands for no folder
        raise ValueError("This user has no home folder for the data: set ALLOYREF_DATA_DIR to a folder.")
    return folder


@dataclass(frozen=True, slots=True)
class Settings:
    """How the service runs.

    `max_body`, `max_bulk_body`, `max_bulk_answer` and `max_in_flight` are in bytes, `body_seconds` and
    `header_seconds` are how long a client may take to send. `max_memory` is in bytes too, and 0 stands for the
    limit of the container. With `require_key` reading the catalogue and calculating need a key too.
    `idempotency_hours` is how long an answer is kept for the same request sent again. An empty `rate_limit` limits
    nobody. An empty `database_url` is a SQLite file in the data folder; it and `rate_store` may hold a password, so
    they are never shown.
    """

    data_dir: Path = field(default_factory=default_folder)
    host: str = "127.0.0.1"
    port: int = 8087
    workers: int = 1
    max_body: int = 100_000
    max_bulk_body: int = 500_000_000
    max_bulk_answer: int = 4_000_000_000
    max_bulk_runs: int = 16
    max_charges: int = 2
    max_memory: int = 0
    max_in_flight: int = 50_000_000
    body_seconds: float = 15.0
    header_seconds: float = 10.0
    cache_seconds: int = 300
    cors_origins: tuple[str, ...] = ()
    log_level: str = "info"
    log_format: str = "text"
    log_requests: bool = False
    metrics: bool = False
    rate_limit: str = ""
    rate_store: str = field(default="memory://", repr=False)
    require_key: bool = False
    idempotency_hours: int = 24
    database_url: str = field(default="", repr=False)

    @property
    def database(self) -> URL:
        """The address of the database of what users write."""
        return address(self.database_url, self.data_dir)

    @classmethod
    def from_environment(cls, environment: Mapping[str, str] = os.environ) -> Settings:
        """Read `ALLOYREF_*`; a value of the wrong form is a `ValueError` that names the variable."""
        given: dict[str, Any] = {}
        for name, read in READERS.items():
            text = environment.get(f"ALLOYREF_{name.upper()}")
            if text:
                try:
                    given[name] = read(text)
                except ValueError as error:
                    if name in SECRET:
                        raise ValueError(f"ALLOYREF_{name.upper()} is not what it must be: {error}") from None
                    raise ValueError(f"ALLOYREF_{name.upper()}={text!r} is not what it must be") from None
        return cls(**given)


def _count(text: str) -> int:
    number = int(text)
    if number < 1:
        raise ValueError(text)
    return number


def _port(text: str) -> int:
    number = int(text)
    if not 0 < number < 65536:
        raise ValueError(text)
    return number


def _seconds(text: str) -> float:
    number = float(text)
    if not 0 < number < 3600:
        raise ValueError(text)
    return number


def _log_format(text: str) -> str:
    if text.lower() not in ("text", "json"):
        raise ValueError(text)
    return text.lower()


def _rate(text: str) -> str:
    if not re.fullmatch("[1-9][0-9]{0,8}/(second|minute|hour|day)", text):
        raise ValueError(text)
    return text


def _store(text: str) -> str:
    if text.partition("://")[0] not in ("memory", "redis", "rediss", "redis+unix", "valkey", "mongodb"):
        raise ValueError("write memory:// or redis://HOST")
    return text


def _flag(text: str) -> bool:
    if text.lower() not in ("true", "false"):
        raise ValueError(text)
    return text.lower() == "true"


def _database(text: str) -> str:
    address(text, Path())
    return text


def _level(text: str) -> str:
    if text.lower() not in ("debug", "info", "warning", "error"):
        raise ValueError(text)
    return text.lower()


READERS: dict[str, Callable[[str], Any]] = {
    "data_dir": Path,
    "host": str,
    "port": _port,
    "workers": _count,
    "max_body": _count,
    "max_bulk_body": _count,
    "max_bulk_answer": _count,
    "max_bulk_runs": _count,
    "max_charges": _count,
    "max_memory": _count,
    "max_in_flight": _count,
    "body_seconds": _seconds,
    "header_seconds": _seconds,
    "cache_seconds": _count,
    "cors_origins": lambda text: tuple(one.strip() for one in text.split(",") if one.strip()),
    "log_level": _level,
    "log_format": _log_format,
    "log_requests": _flag,
    "metrics": _flag,
    "rate_limit": _rate,
    "rate_store": _store,
    "require_key": _flag,
    "idempotency_hours": _count,
    "database_url": _database,
}
SECRET = frozenset(one.name for one in fields(Settings) if not one.repr)
