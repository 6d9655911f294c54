"""The service about itself: alive, ready, its description, its problems, and where to begin."""

from __future__ import annotations

import orjson
from flask import Blueprint, Response

from alloyref import __version__
from alloyref.domain.errors import UnknownName
from alloyref.domain.finder import AlloyQuery
from alloyref.web.openapi import document
from alloyref.web.problems import TYPES, ProblemType
from alloyref.web.representation import JSON, reference_response
from alloyref.web.routes.reference import refuse_parameters
from alloyref.web.service import service

blueprint = Blueprint("operations", __name__)

START = """<!doctype html>
<html lang="en">
<meta charset="utf-8">
<meta name="viewport" content="width=device-width">
<title>alloyref</title>
<style>
:root { color-scheme: light dark }
body { font: 1.1rem/1.5 system-ui, sans-serif; max-width: 44rem; margin: 3rem auto; padding: 0 1rem }
</style>
<h1>alloyref</h1>
<p>Alloy properties with source and uncertainty, and the metal math of a casting shop.</p>
<ul>
<li><a href="/v1/alloys">alloys</a> (<a href="/v1/alloys.csv">csv</a>), <a href="/v1/elements">elements</a>,
<a href="/v1/units">units</a>, <a href="/v1/fineness-marks">fineness marks</a>, <a href="/v1/cautions">cautions</a>,
<a href="/v1/sources">sources</a>, <a href="/v1/dataset">dataset</a></li>
<li>one number: <a href="/v1/alloys/sterling-silver/density?format=text">density of sterling silver</a></li>
<li>a trial in silver, wanted in gold:
<a href="/v1/transfer?mass=4.82&amp;unit=g&amp;from_metal=sterling-silver&amp;to_metal=gold-585-yellow">transfer</a>
</li>
<li>the whole order: <code>POST /v1/order</code>; every path is in
<a href="/openapi.json">the API description</a></li>
</ul>
"""


@blueprint.get("/")
def start() -> Response:
    """Where to begin."""
    return Response(START, content_type="text/html; charset=utf-8")


@blueprint.get("/healthz")
def healthz() -> Response:
    """Alive."""
    return Response(orjson.dumps({"status": "alive", "version": __version__}), content_type=JSON)


@blueprint.get("/readyz")
def readyz() -> Response:
    """Ready: the dataset is loaded, its database answers, and so does that of the shop's own data."""
    here = service()
    here.database.check_ready()
    _, count = here.finder.find(AlloyQuery(page_size=1))
    return Response(orjson.dumps({"status": "ready", "alloys": count}), content_type=JSON)


@blueprint.get("/openapi.json")
def openapi() -> Response:
    """The API description."""
    here = service()
    return reference_response(orjson.dumps(document(here.reference)), JSON, here.settings)


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
