"""What each worker process of the server loads: the application behind the gateway."""

from __future__ import annotations

import gc

from alloyref.settings import Settings
from alloyref.web.app import create_app
from alloyref.web.gateway import Gateway
from alloyref.web.service import KEY, Service


def application() -> Gateway:
    """The RSGI application, with the settings of the environment."""
    settings = Settings.from_environment()
    app = create_app(settings)
    here: Service = app.extensions[KEY]
    gateway = Gateway(app, settings, here.metrics, here.limiter)
    settle()
    return gateway


def settle() -> None:
    """Spare the garbage collector what it would never free.

    The reference data live as long as the worker, so they are taken out of its sight; and an answer is some
    hundreds of short-lived objects without cycles, which at the usual threshold start a collection each time.
    """
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 20)
