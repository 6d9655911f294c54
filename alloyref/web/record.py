"""Asking a calculation, keeping a record of the answer, and asking a recorded one again."""

from __future__ import annotations

import json
from dataclasses import asdict
from functools import lru_cache
from itertools import islice
from pathlib import Path
from typing import Any

import orjson
from flask import Response
from sqlalchemy import Connection

from alloyref import __version__
from alloyref.catalogue.kept import open_held
from alloyref.domain.calculation import Calculation
from alloyref.domain.errors import InvalidInput, Issue, NotAvailable
from alloyref.domain.reference import Reference
from alloyref.domain.shop.record import OWN
from alloyref.services.calculations import CALCULATIONS, Answer, answer
from alloyref.services.difference import MOST, differences
from alloyref.shop import records
from alloyref.shop.clock import now
from alloyref.shop.idempotency import Stored
from alloyref.shop.keys import WRITE
from alloyref.shop.records import Record, RecordLine
from alloyref.web.access import key_with
from alloyref.web.body import an_object
from alloyref.web.once import Make, once
from alloyref.web.own_metals import RequestMetals, noted_alloys
from alloyref.web.representation import CONTENT_TYPES, TEXT
from alloyref.web.schemas.answer import answer_json, dataset_json
from alloyref.web.schemas.document import parse
from alloyref.web.schemas.load import Loaders
from alloyref.web.schemas.write import Writers, text_of
from alloyref.web.service import Service

RECORD = "record"
RECORDS = "/v1/shop/records"


def asked(calculation: Calculation, data: Any, loaders: Loaders, reference: Reference) -> Answer:
    """The answer to plain input, over the given data."""
    return answer(calculation, loaders.load(calculation.inputs, an_object(data)), reference)


def wants_record(given: dict[str, str]) -> bool:
    """Whether the request asks for a record."""
    wanted = given.get(RECORD, "false")
    if wanted not in ("true", "false"):
        raise InvalidInput.of("not-a-flag", "record is true or false.", f"/{RECORD}", ("true", "false"))
    return wanted == "true"


def recorded(calculation: Calculation, data: Any, media: str, here: Service) -> Response:
    """The answer of a calculation, kept as a record whose id goes with it."""
    key = key_with(WRITE)

    def prepare() -> Make:
        # The figures of stored quotes are kept, so that the record does not change with the quotes.
        whole = here.loaders.resolved(calculation.inputs, data)
        found = asked(calculation, whole, here.loaders, here.reference)
        document = answer_json(found, here.writers)
        id_ = records.new_id()
        if media == TEXT:
            body = text_of(calculation, found.outcome.result)
        else:
            body = orjson.dumps({**document, RECORD: id_}).decode()

        def make(connection: Connection) -> Stored:
            dataset = found.dataset
            line = RecordLine(id_, calculation.name, now(), key.id, dataset.version, dataset.hash, __version__)
            request, alloys = json.dumps(whole, default=str), json.dumps(noted_alloys())
            records.keep(connection, line, request, alloys, orjson.dumps(document).decode())
            headers = {"Content-Type": CONTENT_TYPES[media], "Vary": "Accept", "Location": f"{RECORDS}/{id_}"}
            return Stored(200, headers, body)

        return make

    return once(key, data, prepare)


def record_json(record: Record) -> dict[str, Any]:
    """A record as it is served."""
    return {
        "id": record.id,
        "calculation": record.calculation,
        "created": record.created,
        "key": record.key_id,
        "dataset": {"version": record.dataset_version, "hash": record.dataset_hash},
        "program": record.program,
        "request": orjson.Fragment(record.request),
        "alloys": {name: orjson.Fragment(document) for name, document in json.loads(record.alloys).items()},
        "answer": orjson.Fragment(record.answer),
        "digest": record.digest,
        "whole": record.whole,
    }


def recomputed(record: Record, dataset: str, here: Service) -> dict[str, Any]:
    """The recorded request asked again, with the shop's alloys as they were then, and what differs now.

    Raises `NotAvailable` if the data it was recorded under are asked for and not held here.
    """
    calculation = CALCULATIONS.get(record.calculation)
    if calculation is None:
        raise NotAvailable(Issue("not-available", f"This program no longer has {record.calculation!r}."))
    reference, loaders, writers = _data_for(record, dataset, here)
    noted_alloys().update(json.loads(record.alloys))
    document = answer_json(asked(calculation, parse(record.request.encode()), loaders, reference), writers)
    anew = orjson.loads(orjson.dumps(document))
    different = differences(orjson.loads(record.answer), anew)
    listed = [asdict(one) for one in islice(different, MOST)]
    return {
        "record": record.id,
        "calculation": record.calculation,
        "dataset": {
            "recorded": {"version": record.dataset_version, "hash": record.dataset_hash},
            "now": dataset_json(reference.dataset),
        },
        "program": {"recorded": record.program, "now": __version__},
        "same": not listed,
        "differences": listed,
        "more": next(different, None) is not None,
        "answer": anew,
    }


def _data_for(record: Record, dataset: str, here: Service) -> tuple[Reference, Loaders, Writers]:
    if dataset != OWN or record.dataset_hash == here.reference.dataset.hash:
        return here.reference, here.record_loaders, here.writers
    held = _held(here.settings.data_dir, record.dataset_hash)
    if held is None:
        detail = (
            f"The data of this record, {record.dataset_version} ({record.dataset_hash}), are not held here or cannot "
            f"be read by this program; ask with dataset today."
        )
        raise NotAvailable(Issue("dataset-not-held", detail))
    return held, Loaders(held, RequestMetals(here.database), recorded=True), Writers(held.units)


@lru_cache(maxsize=2)
def _held(folder: Path, hash_: str) -> Reference | None:
    """Data of another version that an earlier program left in the folder."""
    return open_held(folder, hash_)
