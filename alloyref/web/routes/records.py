"""Records of calculations: read, listed, and asked again."""

from __future__ import annotations

import re

import orjson
from flask import Blueprint, Response

from alloyref.domain.errors import UnknownName
from alloyref.domain.shop.record import Recompute, RecordLineView, RecordQuery
from alloyref.shop import records
from alloyref.shop.keys import READ
from alloyref.web.access import key_with
from alloyref.web.body import has_body, json_body
from alloyref.web.record import RECORDS, recomputed, record_json
from alloyref.web.representation import JSON, chosen, reference_response
from alloyref.web.routes.reference import own_parameters, refuse_parameters
from alloyref.web.routes.shop import page_response
from alloyref.web.schemas.query import from_query
from alloyref.web.service import service

blueprint = Blueprint("records", __name__, url_prefix=RECORDS)


@blueprint.get("")
def listing() -> Response:
    """Records, newest first."""
    here = service()
    key_with(READ)
    chosen((JSON,))
    query: RecordQuery = here.loaders.load(RecordQuery, from_query(RecordQuery, own_parameters()))
    with here.database.read() as connection:
        found, total = records.page(connection, query.page, query.page_size, query.calculation)
    write = here.writers.record(RecordLineView)
    rows = [write(RecordLineView(*(getattr(one, name) for name in records.LINE_NAMES))) for one in found]
    return page_response({"records": rows}, query, total, here)


@blueprint.get("/<name>")
def read(name: str) -> Response:
    """One record, as it was written."""
    refuse_parameters()
    key_with(READ)
    return reference_response(orjson.dumps(record_json(_record(name))), JSON, service().settings)


@blueprint.post("/<name>/recompute")
def recompute(name: str) -> Response:
    """The recorded calculation asked again, by today's data without a body, and what differs; nothing is stored."""
    here = service()
    key_with(READ)
    refuse_parameters()
    wanted: Recompute = here.loaders.load(Recompute, json_body() if has_body() else {})
    return Response(orjson.dumps(recomputed(_record(name), wanted.dataset, here)), content_type=JSON)


def _record(name: str) -> records.Record:
    found = None
    if re.fullmatch("[0-9a-f]{24}", name):
        with service().database.read() as connection:
            found = records.read(connection, name)
    if found is None:
        raise UnknownName.of("shop-record", name, ())
    return found
