"""What the routes work with, put together once by `create_app`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from flask import current_app

from alloyref.domain.reference import Reference
from alloyref.services.lookup import DatedChange
from alloyref.settings import Settings
from alloyref.shop.database import Database
from alloyref.web.limits import Limiter
from alloyref.web.metrics import Metrics
from alloyref.web.schemas.load import Loaders
from alloyref.web.schemas.write import Writers

KEY = "alloyref"


@dataclass(frozen=True, slots=True, eq=False)
class Service:
    """The reference data with its loaders and writers, the database of the shop's own data, and the settings.

    What was recorded has loaders of its own. One service is like no other, so that what follows from it alone may be
    kept with it.
    """

    settings: Settings
    reference: Reference
    changes: Sequence[DatedChange]
    database: Database
    loaders: Loaders
    record_loaders: Loaders
    writers: Writers
    metrics: Metrics | None
    limiter: Limiter | None


def service() -> Service:
    """The service of the running application."""
    found: Service = current_app.extensions[KEY]
    return found
