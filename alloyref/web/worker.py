"""What each worker process of the server loads: the application behind the gateway."""

from __future__ import annotations

import gc

from alloyref.settings import Settings
from alloyref.web.app import create_app
from alloyref.web.gateway import Gateway


def application() -> Gateway:
    """The RSGI application, with the settings of the environment."""
    settings = Settings.from_environment()
    gateway = Gateway(create_app(settings), settings)
    # The reference data live as long as the worker: the collector need not walk them again and again.
    gc.collect()
    gc.freeze()
    return gateway
