"""The composition root: settings and data in, a WSGI application out. Nothing happens at import."""

from __future__ import annotations

import logging
from collections.abc import Iterable
from typing import TYPE_CHECKING

from flask import Flask

from alloyref.catalogue.files import data_folder
from alloyref.catalogue.kept import open_dataset
from alloyref.domain.searches import MOST_AT_ONCE, Searches
from alloyref.settings import Settings
from alloyref.shop.database import open_database
from alloyref.web import access, finish, limits, observe, problems, representation
from alloyref.web.metrics import Metrics
from alloyref.web.own_metals import RequestMetals, RequestPrices
from alloyref.web.pages import routes as pages
from alloyref.web.pages import show
from alloyref.web.representation import BriefRequest
from alloyref.web.routes import calculations, operations, pictures, records, reference, shop
from alloyref.web.schemas.load import Loaders
from alloyref.web.schemas.write import Writers
from alloyref.web.service import KEY, Service

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIEnvironment


class Application(Flask):
    """Flask, with the searches of each request counted: one body may misspell thousands of units."""

    request_class = BriefRequest

    def wsgi_app(self, environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
        """Answer one request."""
        with Searches(MOST_AT_ONCE).counted():
            return super().wsgi_app(environ, start_response)


def create_app(settings: Settings | None = None) -> Flask:
    """The application over the data in the package, with the given or the environment's settings."""
    settings = settings or Settings.from_environment()
    dataset = open_dataset(data_folder(), settings.data_dir)
    data = dataset.reference
    database = open_database(settings.database)
    metals = RequestMetals(database)
    loaders = Loaders(data, metals, RequestPrices(database))
    record_loaders = Loaders(data, metals, recorded=True)
    metrics = Metrics() if settings.metrics else None
    limiter = limits.Limiter(settings.rate_limit, settings.rate_store) if settings.rate_limit else None
    here = Service(
        settings, data, dataset.changes, database, loaders, record_loaders, Writers(data.units), metrics, limiter
    )
    app = Application("alloyref", static_folder=None)
    app.config["MAX_CONTENT_LENGTH"] = settings.max_body
    app.url_map.strict_slashes = True
    app.url_map.merge_slashes = False
    app.extensions[KEY] = here
    logging.getLogger("alloyref").setLevel(settings.log_level.upper())
    problems.register(app)
    # In this order: the request is marked, then counted, then its key is looked at.
    observe.register(app, settings, metrics)
    limits.register(app, limiter, settings)
    representation.register(app)
    access.register(app)
    show.register(app)
    for part in (reference, calculations, pictures, shop, records, operations, pages):
        app.register_blueprint(part.blueprint)
    finish.register(app, settings.cors_origins)
    return app
