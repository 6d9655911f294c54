"""Pictures, as SVG, PNG, or in words."""

from __future__ import annotations

from collections.abc import Callable

from flask import Blueprint, Response

from alloyref.pictures.drawing import PNG, SVG, Drawing
from alloyref.pictures.kinds import PICTURES, PictureKind
from alloyref.web.body import an_object, json_body
from alloyref.web.representation import CONTENT_TYPES, TEXT, chosen, decimal_mark, reference_response
from alloyref.web.routes.reference import own_parameters, refuse_parameters
from alloyref.web.schemas.query import from_query
from alloyref.web.service import service

blueprint = Blueprint("pictures", __name__, url_prefix="/v1/pictures")
OFFERED = (SVG, PNG, TEXT)


def _bytes(drawing: Drawing, media: str) -> bytes:
    return drawing.says.encode() if media == TEXT else drawing.render(media)


def _get_view(kind: PictureKind) -> Callable[[], Response]:
    def view() -> Response:
        here = service()
        media = chosen(OFFERED)
        inputs = here.loaders.load(kind.inputs, from_query(kind.inputs, own_parameters(), decimal_mark()))
        return reference_response(_bytes(kind.draw(inputs, here.reference), media), media, here.settings)

    return view


def _post_view(kind: PictureKind) -> Callable[[], Response]:
    def view() -> Response:
        here = service()
        media, _ = refuse_parameters(offered=OFFERED)
        drawing = kind.draw(here.loaders.load(kind.inputs, an_object(json_body())), here.reference)
        headers = {"Vary": "Accept", "Cache-Control": "no-store"}
        return Response(_bytes(drawing, media), content_type=CONTENT_TYPES[media], headers=headers)

    return view


for _kind in PICTURES.values():
    _make, _method = (_get_view, "GET") if _kind.query else (_post_view, "POST")
    blueprint.add_url_rule(f"/{_kind.name}", _kind.name, _make(_kind), methods=[_method])
