"""Reference data: tables, alloys, and one number at a time for a spreadsheet cell."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from urllib.parse import urlencode

import orjson
from flask import Blueprint, Response, request

from alloyref.domain.errors import InvalidInput, UnknownName, unknown_field
from alloyref.domain.finder import AlloyQuery
from alloyref.services.lookup import PROPERTIES, alloy_named, dataset_view, find_alloys, number_of, readable
from alloyref.services.views import AlloyDetail, AlloyView, DatasetView, NumberView, alloy_detail, alloy_view
from alloyref.web.access import PARAMETER, READS
from alloyref.web.csvtext import csv_bytes, marked
from alloyref.web.representation import CSV, JSON, TEXT, chosen, decimal_mark, reference_response
from alloyref.web.routes.tables import TABLES, TableRoute
from alloyref.web.schemas.answer import dataset_json
from alloyref.web.schemas.query import from_query
from alloyref.web.service import Service, service

COMMON = ("format", "on_error", "decimal", PARAMETER)
PAGING = ("page", "page_size", "sort", "fields")
ON_ERROR = ("problem", "text")
blueprint = Blueprint("reference", __name__, url_prefix="/v1")


def own_parameters() -> list[tuple[str, str]]:
    """The query parameters but for those that every read takes."""
    if not request.query_string:
        return []
    if request.args.get("on_error", "problem") not in ON_ERROR:
        raise InvalidInput.of("not-an-option", "on_error is problem or text.", "/on_error", ON_ERROR)
    decimal_mark()
    if PARAMETER in request.args and request.method not in READS:
        raise InvalidInput.of("unknown-field", "Only a read takes its key from the address.", f"/{PARAMETER}")
    if len(request.args.getlist(PARAMETER)) > 1:
        raise InvalidInput.of("duplicate", "The key is given twice.", f"/{PARAMETER}")
    return [pair for pair in request.args.items(multi=True) if pair[0] not in COMMON]


def refuse_parameters(*known: str, offered: tuple[str, ...] = (JSON,)) -> tuple[str, dict[str, str]]:
    """The form to answer in, and the parameters as a mapping.

    Forms not offered, parameters other than the known ones, and repeated ones are refused.
    """
    media = chosen(offered)
    given: dict[str, str] = {}
    for name, value in own_parameters():
        if name not in known:
            raise InvalidInput(unknown_field(name, (*known, *COMMON)))
        if name in given:
            raise InvalidInput.of("duplicate", f"{name} is given twice.", f"/{name}")
        given[name] = value
    return media, given


def _document(document: dict[str, Any], here: Service) -> Response:
    """A document of the reference data, with the dataset it rests on."""
    whole = {**document, "dataset": dataset_json(here.reference.dataset)}
    return reference_response(orjson.dumps(whole), JSON, here.settings)


def _table_view(table: TableRoute, forced: str | None) -> Callable[[], Response]:
    def view() -> Response:
        here = service()
        _refuse_pages(table)
        media, _ = refuse_parameters(offered=(forced,) if forced else (JSON, CSV))
        rows = list(table.rows(here.reference))
        if media == CSV:
            return reference_response(csv_bytes(table.view, rows, mark=decimal_mark()), CSV, here.settings)
        write = here.writers.record(table.view)
        return _document({table.field: [write(row) for row in rows], "total": len(rows)}, here)

    return view


def _refuse_pages(table: TableRoute) -> None:
    """Only the alloys come in pages: a script that asks for one here is told what it gets instead."""
    for name in PAGING:
        if name in request.args:
            detail = f"{table.name} comes whole, in one answer: only /v1/alloys takes {name}."
            raise InvalidInput.of("unknown-field", detail, f"/{name}")


def _entry_view(table: TableRoute) -> Callable[[str], Response]:
    def view(name: str) -> Response:
        here = service()
        refuse_parameters()
        rows = {getattr(row, table.key or ""): row for row in table.rows(here.reference)}
        if name not in rows:
            named = [key for key, row in rows.items() if getattr(row, "name", "").casefold() == name.casefold()]
            raise UnknownName.of(table.name.removesuffix("s"), name, rows, named)
        row = rows[name] if table.entry is None else table.entry(name, here.reference)
        return _document(here.writers.record(table.detail or table.view)(row), here)

    return view


for _table in TABLES:
    blueprint.add_url_rule(f"/{_table.name}", f"{_table.name}", _table_view(_table, None))
    blueprint.add_url_rule(f"/{_table.name}.csv", f"{_table.name}-csv", _table_view(_table, CSV))
    if _table.key is not None:
        blueprint.add_url_rule(f"/{_table.name}/<name>", f"{_table.name}-entry", _entry_view(_table))


@blueprint.get("/alloys")
def alloys() -> Response:
    """Alloys that answer the query, a page at a time."""
    return _alloys(chosen((JSON, CSV)))


@blueprint.get("/alloys.csv")
def alloys_csv() -> Response:
    """The same as csv; all on one page unless a page is asked for."""
    return _alloys(chosen((CSV,)))


def _alloys(media: str) -> Response:
    here = service()
    data = from_query(AlloyQuery, own_parameters(), decimal_mark())
    if media == CSV:
        data.setdefault("page_size", "500")
    query: AlloyQuery = here.loaders.load(AlloyQuery, data)
    only = query.fields
    ids, total = find_alloys(query, here.reference)
    rows = [alloy_view(here.reference.alloys[id_]) for id_ in ids]
    if media == CSV:
        response = reference_response(csv_bytes(AlloyView, rows, only, decimal_mark()), CSV, here.settings)
    else:
        write = here.writers.record(AlloyView)
        documents = [write(row) for row in rows]
        if only:
            documents = [{name: one[name] for name in only} for one in documents]
        page = {"total": total, "page": query.page, "page_size": query.page_size}
        response = _document({"alloys": documents, **page}, here)
    links = page_links(query.page, query.page_size, total)
    if links:
        response.headers["Link"] = links
    return response


def page_links(page: int, size: int, total: int) -> str:
    """Links to the neighbouring pages (RFC 8288)."""
    last = max(1, -(-total // size))
    wanted = {"first": 1, "prev": page - 1, "next": page + 1, "last": last}
    # A key is not repeated: links are kept and shown, and whoever followed this address has it.
    others = [pair for pair in request.args.items(multi=True) if pair[0] not in ("page", PARAMETER)]
    return ", ".join(
        f'<{request.path}?{urlencode([*others, ("page", number)])}>; rel="{name}"'
        for name, number in wanted.items()
        if 1 <= number <= last and last > 1
    )


@blueprint.get("/alloys/<name>")
def alloy(name: str) -> Response:
    """Everything known of one alloy."""
    here = service()
    refuse_parameters()
    found = alloy_detail(alloy_named(name, here.reference))
    return _document(here.writers.record(AlloyDetail)(found), here)


def _number_view(property_: str) -> Callable[[str], Response]:
    def view(name: str) -> Response:
        here = service()
        media, given = refuse_parameters("unit", offered=(JSON, TEXT, CSV))
        metal = readable(name, here.reference, here.loaders.own_metal)
        try:
            one = number_of(metal, property_, given.get("unit"), here.reference)
        except InvalidInput as error:
            raise InvalidInput(*(issue.under("/unit") for issue in error.issues)) from None
        if media == TEXT:
            return reference_response(marked(one.value, decimal_mark()).encode(), TEXT, here.settings)
        if media == CSV:
            return reference_response(csv_bytes(NumberView, [one], mark=decimal_mark()), CSV, here.settings)
        return _document(here.writers.record(NumberView)(one), here)

    return view


for _property in PROPERTIES:
    blueprint.add_url_rule(f"/alloys/<name>/{_property}", f"alloy-{_property}", _number_view(_property))


@blueprint.get("/dataset")
def dataset() -> Response:
    """Version, hash, counts and changelog."""
    here = service()
    refuse_parameters()
    document = here.writers.record(DatasetView)(dataset_view(here.reference, here.changes))
    return reference_response(orjson.dumps(document), JSON, here.settings)
