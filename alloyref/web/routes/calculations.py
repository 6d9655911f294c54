"""Every calculation, by POST and, where it is declared so, by GET and as text."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import orjson
from flask import Blueprint, Response

from alloyref.domain.calculation import Calculation
from alloyref.services.calculations import CALCULATIONS
from alloyref.web.body import json_body
from alloyref.web.once import name_of_attempt
from alloyref.web.record import RECORD, asked, recorded, wants_record
from alloyref.web.representation import CONTENT_TYPES, JSON, TEXT, chosen, decimal_mark, reference_response
from alloyref.web.routes import bulk
from alloyref.web.routes.reference import own_parameters, refuse_parameters
from alloyref.web.schemas.answer import answer_json
from alloyref.web.schemas.query import from_query
from alloyref.web.schemas.write import text_of
from alloyref.web.service import Service, service

blueprint = Blueprint("calculations", __name__, url_prefix="/v1")


def _forms(calculation: Calculation) -> tuple[str, ...]:
    return (JSON, TEXT) if calculation.text else (JSON,)


def _post_view(calculation: Calculation) -> Callable[[], Response]:
    def view() -> Response:
        here = service()
        media, given = refuse_parameters(RECORD, offered=_forms(calculation))
        if wants_record(given):
            return recorded(calculation, json_body(), media, here)
        name_of_attempt()
        body = _answer_bytes(calculation, json_body(), media, here)
        return Response(body, content_type=CONTENT_TYPES[media], headers={"Vary": "Accept"})

    return view


def _get_view(calculation: Calculation) -> Callable[[], Response]:
    def view() -> Response:
        here = service()
        media = chosen(_forms(calculation))
        body = _answer_bytes(
            calculation, from_query(calculation.inputs, own_parameters(), decimal_mark()), media, here
        )
        return reference_response(body, media, here.settings)

    return view


def _answer_bytes(calculation: Calculation, data: Any, media: str, here: Service) -> bytes:
    found = asked(calculation, data, here.loaders, here.reference)
    if media == TEXT:
        return text_of(calculation, found.outcome.result).replace(".", decimal_mark()).encode()
    return orjson.dumps(answer_json(found, here.writers))


for _calculation in CALCULATIONS.values():
    blueprint.add_url_rule(
        f"/{_calculation.name}", f"post-{_calculation.name}", _post_view(_calculation), methods=["POST"]
    )
    if _calculation.query:
        blueprint.add_url_rule(f"/{_calculation.name}", f"get-{_calculation.name}", _get_view(_calculation))

blueprint.register_blueprint(bulk.blueprint)
