"""The service about itself: alive, ready, its description, its problems."""

from __future__ import annotations

from functools import lru_cache

import orjson
from flask import Blueprint, Response, request

from alloyref import __version__
from alloyref.catalogue.files import shipped
from alloyref.domain.errors import UnknownName
from alloyref.web.openapi import document, in_yaml
from alloyref.web.problems import TYPES, ProblemType
from alloyref.web.representation import JSON, YAML, reference_response
from alloyref.web.routes.reference import refuse_parameters
from alloyref.web.service import Service, service

blueprint = Blueprint("operations", __name__)
METHODS = ("DELETE", "GET", "HEAD", "OPTIONS", "POST", "PUT")
"""All that some address takes."""


@blueprint.before_app_request
def whole_service() -> Response | None:
    """`OPTIONS *` asks for no address but for the service as a whole (RFC 9110, section 9.3.7)."""
    if request.method == "OPTIONS" and request.environ["PATH_INFO"] == "*":
        return Response(headers={"Allow": ", ".join(METHODS)})
    return None


@blueprint.get("/healthz")
def healthz() -> Response:
    """Alive."""
    return Response(orjson.dumps({"status": "alive", "version": __version__}), content_type=JSON)


@blueprint.get("/readyz")
def readyz() -> Response:
    """Ready: the dataset is loaded, and the database of the shop's own data answers."""
    here = service()
    here.database.check_ready()
    return Response(orjson.dumps({"status": "ready", "alloys": len(here.reference.alloys)}), content_type=JSON)


@blueprint.get("/openapi.json")
def openapi() -> Response:
    """The API description of the service as it is set."""
    return reference_response(_described(service()), JSON, service().settings)


@blueprint.get("/openapi.yaml")
def openapi_yaml() -> Response:
    """The same to read. That of a service with the usual settings is checked in and need not be written anew."""
    here = service()
    if here.settings.require_key:
        return reference_response(in_yaml(_described(here)), YAML, here.settings)
    described = shipped("_openapi/openapi.yaml", "openapi/openapi.yaml").read_bytes()
    return reference_response(described, YAML, here.settings)


@lru_cache(maxsize=1)
def _described(here: Service) -> bytes:
    """Made once: it takes as long as a hundred answers, and whoever asks for it need show no key."""
    return orjson.dumps(document(here.reference, closed=here.settings.require_key))


def _problem_entry(one: ProblemType) -> dict[str, object]:
    return {"id": one.id, "status": one.status, "title": one.title, "meaning": one.meaning}


@blueprint.get("/v1/problems")
def problems() -> Response:
    """The kinds of problem."""
    refuse_parameters()
    entries = [_problem_entry(one) for one in TYPES.values()]
    return reference_response(orjson.dumps({"problems": entries, "total": len(entries)}), JSON, service().settings)


@blueprint.get("/v1/problems/<name>")
def problem(name: str) -> Response:
    """One kind of problem."""
    refuse_parameters()
    if name not in TYPES:
        raise UnknownName.of("problem", name, TYPES)
    return reference_response(orjson.dumps(_problem_entry(TYPES[name])), JSON, service().settings)
