"""Many questions of one calculation in one request, under any WSGI server; the gateway reads them its own way."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

from flask import Blueprint, Response, request

from alloyref.web.bulk.form import Bench
from alloyref.web.bulk.run import BULK, Refusal, begin
from alloyref.web.bulk.spool import Spool
from alloyref.web.problems import problem_response
from alloyref.web.service import service

CHUNK = 65536
blueprint = Blueprint("bulk", __name__, url_prefix="/bulk")


def _view(name: str) -> Callable[[], Response]:
    def view() -> Response:
        here = service()
        request.max_content_length = here.settings.max_bulk_body
        bench = Bench(here.reference, here.loaders, here.writers)
        coding = request.headers.get("Content-Encoding", "")
        spool = Spool()
        try:
            run = begin(name, request.headers.get("Content-Type", ""), coding, request.args.items(multi=True), bench)
            for data in iter(partial(request.stream.read, CHUNK), b""):
                for piece in run.take(data):
                    spool.put(piece)
            for piece in run.end():
                spool.put(piece)
        except Refusal as refusal:
            return problem_response(refusal.type, refusal.detail, refusal.issues)
        except BaseException:
            spool.remove()
            raise
        response = Response(_parts(spool), content_type=run.media)
        response.content_length = spool.size
        response.headers["Content-Digest"] = run.content_digest()
        response.headers["Cache-Control"] = "no-store"
        return response

    return view


def _parts(spool: Spool) -> Iterator[bytes]:
    path = spool.file()
    if path is None:
        yield spool.content()
        return
    try:
        with path.open("rb") as stream:
            yield from iter(partial(stream.read, CHUNK), b"")
    finally:
        spool.remove()


for _name in BULK:
    blueprint.add_url_rule(f"/{_name}", f"bulk-{_name}", _view(_name), methods=["POST"])
