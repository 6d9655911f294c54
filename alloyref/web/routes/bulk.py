"""Many questions of one calculation in one request.

Under the gateway a view only says whether and how a request is answered, as it does for any other, and the gateway
reads the body; under any other WSGI server the view reads it too.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from typing import Any

from flask import Blueprint, Response, request

from alloyref.web.bulk.door import PASSAGE, Passage
from alloyref.web.bulk.form import Bench
from alloyref.web.bulk.run import BULK, Refusal, Run, begin
from alloyref.web.bulk.spool import Spool
from alloyref.web.problems import problem_response
from alloyref.web.service import service

CHUNK = 65536
blueprint = Blueprint("bulk", __name__, url_prefix="/bulk")


def _view(name: str) -> Callable[[], Response]:
    def view() -> Response:
        passage: Passage | None = request.environ.get(PASSAGE)
        spool = Spool(service().settings.max_bulk_answer)
        try:
            run = _begun(name, passage.polars if passage is not None else None)
            if passage is not None:
                passage.run = run
                return Response(content_type=run.media)
            for data in iter(partial(request.stream.read, CHUNK), b""):
                for piece in run.take(data):
                    spool.put(piece)
            for piece in run.end():
                spool.put(piece)
        except Refusal as refusal:
            spool.remove()
            response = problem_response(refusal.type, refusal.detail, refusal.issues)
            response.headers.extend(refusal.headers)
            return response
        except BaseException:
            spool.remove()
            raise
        response = Response(_parts(spool), content_type=run.media)
        response.content_length = spool.size
        response.headers["Content-Digest"] = run.content_digest()
        response.headers["Cache-Control"] = "no-store"
        return response

    return view


def _begun(name: str, polars: Any) -> Run:
    here = service()
    request.max_content_length = here.settings.max_bulk_body
    bench = Bench(here.reference, here.loaders, here.writers, polars)
    headers = request.headers
    kind, coding = headers.get("Content-Type", ""), headers.get("Content-Encoding", "")
    return begin(name, kind, coding, request.args.items(multi=True), bench)


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
