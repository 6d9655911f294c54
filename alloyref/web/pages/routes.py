"""The pages: the order as a form and a sheet, the finder, alloys side by side, sources, the API reference."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

import orjson
from flask import Blueprint, Response, redirect, render_template, request, send_from_directory, url_for
from werkzeug.wrappers import Response as WerkzeugResponse

from alloyref.domain.calculation import Calculation
from alloyref.domain.density_test import DENSITY_TEST
from alloyref.domain.errors import AlloyrefError, InvalidInput, Issue, UnknownName
from alloyref.domain.finder import SORTS, USES, AlloyQuery
from alloyref.domain.metal import Metal
from alloyref.domain.numbers import COMMA, EITHER, POINT, plain
from alloyref.domain.order import ORDER
from alloyref.domain.order.inputs import OrderInputs
from alloyref.domain.recovery import RECOVERY
from alloyref.pictures.families import FamiliesInputs, families
from alloyref.pictures.flow import flow_of
from alloyref.pictures.triangle import CORNERS, TriangleInputs, triangle
from alloyref.services.calculations import Answer, answer
from alloyref.services.lookup import alloy_named, find_alloys
from alloyref.services.views import AlloyDetail, AlloyView, SourceView, alloy_detail, alloy_view, source_view
from alloyref.web.pages import bench_forms, hand_on, order_form
from alloyref.web.pages.form import Form, Part, nested
from alloyref.web.pages.problem_page import problem_page
from alloyref.web.pages.show import DOCS_POLICY, guarded, shown, write_decimals_with
from alloyref.web.problems import TYPES, detail_of, of_domain, problem_json
from alloyref.web.representation import HTML, reference_response
from alloyref.web.schemas.answer import answer_json, dataset_json
from alloyref.web.schemas.decimals import with_points
from alloyref.web.schemas.options import command_line
from alloyref.web.schemas.query import from_query
from alloyref.web.service import Service, service

PAGES = (
    ("pages.start", "Order"),
    ("pages.recovery", "Recovery"),
    ("pages.density_test", "Density test"),
    ("pages.finder", "Alloys"),
    ("pages.docs", "For programs"),
)
MOST_COMPARED = 4
PAGE_SIZE = 60

blueprint = Blueprint(
    "pages", __name__, template_folder="templates", static_folder="static", static_url_path="/assets"
)


@blueprint.app_context_processor
def _common() -> dict[str, Any]:
    return {"pages": PAGES, "dataset": dataset_json(service().reference.dataset)}


def _kept(template: str, **values: Any) -> Response:
    """A page that follows from its address alone, so caches may keep it until the data change."""
    body = render_template(template, **values).encode()
    return guarded(reference_response(body, HTML, service().settings))


def _made(template: str, status: int = 200, **values: Any) -> Response:
    """A page that answers what was sent; nobody keeps it."""
    response = Response(render_template(template, **values), status, content_type="text/html; charset=utf-8")
    response.headers["Cache-Control"] = "no-store"
    return guarded(response)


@blueprint.errorhandler(AlloyrefError)
def _refused(error: AlloyrefError) -> Response:
    """A refusal as a page: whoever asked is a person."""
    type_, status = of_domain(error)
    return problem_page(problem_json(type_, detail_of(error), error.issues, status), TYPES[type_].meaning)


def _choices(here: Service) -> dict[str, Any]:
    """What the fields of a form offer: metals by id and name, materials by table."""
    reference = here.reference
    metals = [(alloy.id, alloy.metal.name) for alloy in reference.alloys.values()]
    metals += [(trade.name, "trade name") for trade in reference.trade_names.values()]
    metals += [(symbol, f"fine {element.name}") for symbol, element in reference.elements.items()]
    tables = {"patterns": reference.patterns, "stones": reference.stones}
    materials = {name: list(table.values()) for name, table in tables.items()}
    return {
        "metals": metals,
        "materials": {name: [{"id": one.id, "name": one.name} for one in table] for name, table in materials.items()},
        "alloys": len(reference.alloys),
        "catalogue": reference.alloys,
    }


@blueprint.get("/")
def start() -> Response:
    """What this is, with the order as a form."""
    form = Form(OrderInputs, order_form.ORDER, {})
    return _kept("start.html", form=form, **_choices(service()))


@dataclass(frozen=True, slots=True)
class Sent:
    """A form that was sent, as it is shown again, and its answer unless something is wrong or more rows are asked.

    `command` asks the same on the command line.
    """

    form: Form
    found: Answer | None = None
    command: str = ""


def _sent(calculation: Calculation, parts: tuple[Part, ...]) -> Sent:
    here = service()
    more, mark = request.form.get("more", ""), request.form.get("decimal", "")
    mark = mark if mark in (POINT, COMMA) else EITHER
    data: Mapping[str, Any] = {}
    try:
        data = nested(request.form.items(multi=True))
        if more:
            return Sent(Form(calculation.inputs, parts, data, more=more, mark=mark))
        meant = with_points(calculation.inputs, data, mark)
        found = answer(calculation, here.loaders.load(calculation.inputs, meant), here.reference)
    except AlloyrefError as error:
        return Sent(Form(calculation.inputs, parts, data, error.issues, mark=mark))
    write_decimals_with(COMMA if mark == COMMA else POINT)
    command = command_line(calculation.name, calculation.inputs, meant)
    return Sent(Form(calculation.inputs, parts, data, mark=mark), found, command)


def _document(found: Answer, here: Service) -> Any:
    """What the API would send, no more and no less."""
    return orjson.loads(orjson.dumps(answer_json(found, here.writers)))


@blueprint.post("/order")
def order() -> Response:
    """The order sheet, or the form again with what is wrong beside each field."""
    return _worked_out(ORDER, order_form.ORDER, "start.html", "order.html", lambda found: {"picture": _flow(found)})


@blueprint.get("/order")
def order_again() -> WerkzeugResponse:
    """A sheet's address, asked for anew: a sheet is kept by nobody, so the form is where it is made again."""
    if request.query_string:
        raise InvalidInput.of("unknown-field", "The order page takes a form, and nothing in its address.")
    return redirect(url_for("pages.start"))


def _flow(found: Answer) -> dict[str, str]:
    """Where the charge of an order goes."""
    return shown(flow_of(found.outcome.result, found.inputs.final_metal.name))


@blueprint.route("/density-test", methods=["GET", "POST"])
def density_test() -> Response:
    """What a piece is, by its weight in air and in water."""
    return _bench_page("density_test.html", DENSITY_TEST, bench_forms.DENSITY_TEST, _ring)


@blueprint.route("/recovery", methods=["GET", "POST"])
def recovery() -> Response:
    """What scrap is worth, and which refiner's offer pays more."""
    return _bench_page("recovery.html", RECOVERY, bench_forms.RECOVERY, lambda found: {})


def _ring(found: Answer) -> dict[str, Any]:
    """The measured piece among the gold alloys."""
    density = found.outcome.result.density
    half = max(density.high - density.value, density.value - density.low)
    return {"picture": shown(families(FamiliesInputs(density.value, half), service().reference))}


def _bench_page(
    template: str, calculation: Calculation, parts: tuple[Part, ...], more_of: Callable[[Answer], dict[str, Any]]
) -> Response:
    """A form, and above it the sheet that answers it."""
    here = service()
    if request.method == "GET":
        empty = Form(calculation.inputs, parts, {})
        return _kept(template, form=empty, answer=None, **_choices(here))
    return _worked_out(calculation, parts, template, template, more_of)


def _worked_out(
    calculation: Calculation,
    parts: tuple[Part, ...],
    again: str,
    sheet: str,
    more_of: Callable[[Answer], dict[str, Any]],
) -> Response:
    """The sheet of a form that was sent, or the form again with what is wrong."""
    here = service()
    sent = _sent(calculation, parts)
    if sent.found is None:
        return _made(again, 422 if sent.form.issues else 200, form=sent.form, answer=None, **_choices(here))
    document = _document(sent.found, here)
    values = {"form": sent.form, "answer": document, "command": sent.command, **more_of(sent.found)}
    if calculation is ORDER:
        values |= _handed_on(document, sent.form)
    return _made(sheet, **values, **_choices(here))


def _handed_on(document: Mapping[str, Any], form: Form) -> dict[str, Any]:
    """What comes back from an order, as fields of the recovery form, without and with the trial."""
    lots = len(document["result"]["returns"]["items"])
    return {"returns": hand_on.returns(document, form.data), "trial": hand_on.trial(document, form.data, lots)}


@blueprint.get("/alloys")
def finder() -> Response:
    """Alloys that answer a question."""
    here = service()
    asked = {name: value.strip() for name, value in request.args.items() if value.strip()}
    query = AlloyQuery(page_size=PAGE_SIZE)
    issues: tuple[Issue, ...] = ()
    meant: dict[str, Any] = {}
    try:
        meant = {"page_size": str(PAGE_SIZE), **from_query(AlloyQuery, asked.items(), EITHER)}
        query = here.loaders.load(AlloyQuery, meant)
    except AlloyrefError as error:
        issues = error.issues
    ids, total = find_alloys(query, here.reference) if not issues else ((), 0)
    choices = {name: here.reference.catalogue_words(name) for name in ("base", "family", "colour")}
    values = {
        "form": Form(AlloyQuery, (), asked, issues),
        "asked": asked,
        "found": _documents(AlloyView, [alloy_view(here.reference.alloys[id_]) for id_ in ids], here),
        "total": total,
        "command": command_line("alloys", AlloyQuery, meant),
        "page": query.page,
        "pages_total": -(-total // query.page_size),
        "choices": {**choices, "use": USES},
        "sorts": [*SORTS, *(f"-{name}" for name in SORTS[2:])],
    }
    return _made("finder.html", 422, **values) if issues else _kept("finder.html", **values)


@blueprint.get("/alloys/<name>")
def alloy(name: str) -> Response:
    """Everything known of one alloy."""
    return _side_by_side([name])


@blueprint.get("/compare")
def compare() -> Response:
    """Up to four alloys side by side."""
    names = list(dict.fromkeys(request.args.getlist("id")))
    if not 1 <= len(names) <= MOST_COMPARED:
        raise InvalidInput.of("count", f"Tick one to {MOST_COMPARED} alloys; {len(names)} were ticked.", "/id")
    return _side_by_side(names)


def _side_by_side(names: list[str]) -> Response:
    here = service()
    # An id and a name may mean the same alloy.
    found = {one.id: one for one in (alloy_named(name, here.reference) for name in names)}.values()
    details = [alloy_detail(one) for one in found]
    pictures = [_place(one.metal, here) for one in found if set(one.metal.composition.elements) <= set(CORNERS)]
    cautions = here.reference.cautions_for(one.metal for one in found)
    return _kept("alloy.html", alloys=_documents(AlloyDetail, details, here), pictures=pictures, cautions=cautions)


def _place(metal: Metal, here: Service) -> dict[str, str]:
    """Where an alloy lies in the gold-silver-copper triangle: the picture's address and its words."""
    inputs = TriangleInputs(composition=metal.composition)
    line = ", ".join(f"{symbol} {plain(share)}" for symbol, share in metal.composition.parts)
    return {"name": metal.name, "composition": line, "says": triangle(inputs, here.reference).says}


@blueprint.get("/sources/<name>")
def source(name: str) -> Response:
    """One source."""
    here = service()
    if name not in here.reference.sources:
        raise UnknownName.of("source", name, here.reference.sources)
    return _kept("source.html", source=_documents(SourceView, [source_view(here.reference.sources[name])], here)[0])


def _documents(type_: type, rows: list[Any], here: Service) -> list[Any]:
    """Rows as the API shows them."""
    write = here.writers.record(type_)
    documents: list[Any] = orjson.loads(orjson.dumps([write(row) for row in rows]))
    return documents


@blueprint.get("/docs")
def docs() -> Response:
    """Every path of the API, to read and to try."""
    body = render_template("docs.html").encode()
    return guarded(reference_response(body, HTML, service().settings), DOCS_POLICY)


@blueprint.get("/docs/<path:filename>")
def docs_asset(filename: str) -> Response:
    """The scripts and styles of the API reference, from the installed package."""
    return send_from_directory(str(files("flask_swagger_ui") / "dist"), filename)
