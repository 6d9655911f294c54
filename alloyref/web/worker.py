"""What each worker process of the server loads: the application behind the gateway."""

from __future__ import annotations

from alloyref.settings import Settings
from alloyref.web.app import create_app
from alloyref.web.gateway import Gateway


def application() -> Gateway:
    """The RSGI application, with the settings of the environment."""
    settings = Settings.from_environment()
    return Gateway(create_app(settings), settings)
