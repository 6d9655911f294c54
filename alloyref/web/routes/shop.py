"""The shop's own alloys and quotes, each with its versions and history."""

from __future__ import annotations

import re
import secrets
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import orjson
from flask import Blueprint, Response, request
from sqlalchemy import Connection

from alloyref.domain.errors import UnknownName
from alloyref.domain.shop.alloy import ID_FORM, PREFIX, NewShopAlloy, ShopAlloy, ShopAlloyView, shop_alloy_view
from alloyref.domain.shop.price import ShopPrice, ShopPriceQuery, ShopPriceView
from alloyref.domain.shop.record import HistoryQuery, PageQuery
from alloyref.shop.entries import ALLOYS, PRICES, Change, Entries, Entry, history
from alloyref.shop.errors import ConditionMissing
from alloyref.shop.idempotency import Stored
from alloyref.shop.keys import READ, WRITE
from alloyref.shop.prices import conditions, newest_first
from alloyref.web.access import key_with
from alloyref.web.body import an_object, json_body
from alloyref.web.once import Make, once
from alloyref.web.representation import JSON, chosen, reference_response, strong_etag
from alloyref.web.routes.reference import own_parameters, page_links, refuse_parameters
from alloyref.web.schemas.document import parse
from alloyref.web.schemas.query import from_query
from alloyref.web.service import Service, service

SHOP = "/v1/shop"
blueprint = Blueprint("shop", __name__, url_prefix=SHOP)


@dataclass(frozen=True, slots=True)
class Resource:
    """One kind of entry with an address of its own."""

    entries: Entries
    new: type
    inputs: type
    view: type
    query: type
    show: Callable[[Entry, Service], Any]
    document: Callable[[Any, Service], bytes]
    columns: Callable[[Any], dict[str, str]]
    select: Callable[[Any], tuple[Any, Any]]
    prefix: str = ""

    @property
    def name(self) -> str:
        """The name in the address and of the list."""
        return self.entries.kind

    def body(self, entry: Entry, here: Service) -> bytes:
        """The entry as it is served."""
        return orjson.dumps(here.writers.record(self.view)(self.show(entry, here)))

    def id_of(self, name: str) -> str:
        """The id that an address names, with or without its prefix; `UnknownName` if no id looks like it."""
        bare = name.removeprefix(self.prefix)
        if not re.fullmatch(ID_FORM, bare):
            raise self.unknown(name)
        return bare

    def unknown(self, name: str) -> UnknownName:
        """The error for an id that is not there."""
        return UnknownName.of(f"shop-{self.name.removesuffix('s')}", name, ())


def _without_nulls(document: Mapping[str, Any]) -> dict[str, Any]:
    """A written input as it could have come in."""
    return {name: value for name, value in document.items() if value is not None}


def _alloy_document(alloy: Any, here: Service) -> bytes:
    alloy.check()
    return orjson.dumps(_without_nulls(here.writers.record(ShopAlloy)(alloy)))


def _show_alloy(entry: Entry, here: Service) -> ShopAlloyView:
    alloy = here.loaders.load(ShopAlloy, parse(entry.document.encode()))
    return shop_alloy_view(entry.id, alloy, entry.version, entry.created, entry.changed)


def _price_document(price: Any, here: Service) -> bytes:
    price.check()
    return orjson.dumps({**here.writers.record(ShopPrice)(price), "metal": price.metal.id})


def _show_price(entry: Entry, here: Service) -> ShopPriceView:
    one = parse(entry.document.encode())
    texts = {name: one[name] for name in ("metal", "price", "currency", "date", "per", "note")}
    return ShopPriceView(entry.id, **texts, version=entry.version, created=entry.created)


RESOURCES = (
    Resource(
        ALLOYS,
        NewShopAlloy,
        ShopAlloy,
        ShopAlloyView,
        PageQuery,
        _show_alloy,
        _alloy_document,
        lambda alloy: {},
        lambda query: ((), ()),
        PREFIX,
    ),
    Resource(
        PRICES,
        ShopPrice,
        ShopPrice,
        ShopPriceView,
        ShopPriceQuery,
        _show_price,
        _price_document,
        lambda price: {"metal": price.metal.id, "currency": price.currency, "date": price.date},
        lambda query: (conditions(query.metal, query.currency, query.at), newest_first()),
    ),
)


def _create(resource: Resource) -> Callable[[], Response]:
    def view() -> Response:
        here, key = service(), key_with(WRITE)
        refuse_parameters()
        data = an_object(json_body())

        def prepare() -> Make:
            inputs = here.loaders.load(resource.new, data)
            document = resource.document(inputs, here).decode()
            id_ = (getattr(inputs, "id", None) or secrets.token_hex(8)).removeprefix(resource.prefix)

            def make(connection: Connection) -> Stored:
                entry = resource.entries.create(connection, id_, document, key.id, **resource.columns(inputs))
                body = resource.body(entry, here)
                where = f"{SHOP}/{resource.name}/{resource.prefix}{id_}"
                headers = {"Content-Type": JSON, "Location": where, "ETag": f'"{strong_etag(body)}"'}
                return Stored(201, headers, body.decode())

            return make

        return once(key, data, prepare)

    return view


def _list(resource: Resource) -> Callable[[], Response]:
    def view() -> Response:
        here = service()
        key_with(READ)
        chosen((JSON,))
        query = here.loaders.load(resource.query, from_query(resource.query, own_parameters()))
        with here.database.read() as connection:
            where, order = resource.select(query)
            found, total = resource.entries.page(connection, query.page, query.page_size, where, order)
        write = here.writers.record(resource.view)
        return page_response({resource.name: [write(resource.show(one, here)) for one in found]}, query, total, here)

    return view


def page_response(rows: dict[str, Any], query: Any, total: int, here: Service) -> Response:
    """One page of a list, with links to its neighbours."""
    whole = {**rows, "total": total, "page": query.page, "page_size": query.page_size}
    response = reference_response(orjson.dumps(whole), JSON, here.settings)
    links = page_links(query.page, query.page_size, total)
    if links:
        response.headers["Link"] = links
    return response


def _read(resource: Resource) -> Callable[[str], Response]:
    def view(name: str) -> Response:
        here = service()
        key_with(READ)
        refuse_parameters()
        with here.database.read() as connection:
            found = resource.entries.read(connection, resource.id_of(name))
        if found is None:
            raise resource.unknown(name)
        return reference_response(resource.body(found, here), JSON, here.settings)

    return view


def _accepts(resource: Resource, here: Service) -> Callable[[Entry], bool]:
    """Whether an entry is of a version that If-Match names (strong comparison, RFC 9110, section 13.1.1)."""
    if "If-Match" not in request.headers:
        raise ConditionMissing("Name the version that is to be changed: send its ETag in If-Match.")
    named = request.if_match
    return lambda entry: named.star_tag or named.contains(strong_etag(resource.body(entry, here)))


def _replace(resource: Resource) -> Callable[[str], Response]:
    def view(name: str) -> Response:
        here, key = service(), key_with(WRITE)
        refuse_parameters()
        id_, accepts = resource.id_of(name), _accepts(resource, here)
        inputs = here.loaders.load(resource.inputs, an_object(json_body()))
        document, columns = resource.document(inputs, here).decode(), resource.columns(inputs)
        with here.database.write() as connection:
            found = resource.entries.replace(connection, id_, document, accepts, key.id, **columns)
        if found is None:
            raise resource.unknown(name)
        body = resource.body(found, here)
        return Response(body, content_type=JSON, headers={"ETag": f'"{strong_etag(body)}"'})

    return view


def _delete(resource: Resource) -> Callable[[str], Response]:
    def view(name: str) -> Response:
        here, key = service(), key_with(WRITE)
        refuse_parameters()
        id_, accepts = resource.id_of(name), _accepts(resource, here)
        with here.database.write() as connection:
            if not resource.entries.delete(connection, id_, accepts, key.id):
                raise resource.unknown(name)
        response = Response(status=204)
        del response.headers["Content-Type"]
        return response

    return view


def _history(resource: Resource) -> Callable[[str], Response]:
    def view(name: str) -> Response:
        key_with(READ)
        response, total = _changes(PageQuery, resource.name, resource.id_of(name))
        if not total:
            raise resource.unknown(name)
        return response

    return view


def _changes(query_type: type, kind: str | None = None, entry: str | None = None) -> tuple[Response, int]:
    """One page of changes, and how many there are in all."""
    here = service()
    key_with(READ)
    chosen((JSON,))
    query = here.loaders.load(query_type, from_query(query_type, own_parameters()))
    wanted = kind or getattr(query, "kind", None)
    with here.database.read() as connection:
        found, total = history(connection, query.page, query.page_size, wanted, entry)
    return page_response({"changes": [_change_json(one) for one in found]}, query, total, here), total


def _change_json(one: Change) -> dict[str, Any]:
    prefix = PREFIX if one.kind == ALLOYS.kind else ""
    return {
        "number": one.number,
        "kind": one.kind,
        "id": prefix + one.entry,
        "version": one.version,
        "action": one.action,
        "at": one.at,
        "key": one.key,
        "document": None if one.document is None else orjson.Fragment(one.document),
    }


for _one in RESOURCES:
    _rule, _entry = f"/{_one.name}", f"/{_one.name}/<name>"
    blueprint.add_url_rule(_rule, f"create-{_one.name}", _create(_one), methods=["POST"])
    blueprint.add_url_rule(_rule, f"list-{_one.name}", _list(_one))
    blueprint.add_url_rule(_entry, f"read-{_one.name}", _read(_one))
    blueprint.add_url_rule(_entry, f"replace-{_one.name}", _replace(_one), methods=["PUT"])
    blueprint.add_url_rule(_entry, f"delete-{_one.name}", _delete(_one), methods=["DELETE"])
    blueprint.add_url_rule(f"{_entry}/history", f"history-{_one.name}", _history(_one))


@blueprint.get("/history")
def whole_history() -> Response:
    """Every change, newest first."""
    return _changes(HistoryQuery)[0]
