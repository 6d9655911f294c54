"""What goes wrong, for a browser: a page with the same facts and a way back; programs keep their JSON."""

from __future__ import annotations

import html
from collections.abc import Callable
from typing import Any

import pytest
import requests

Web = Callable[..., requests.Response]
Problem = Callable[[requests.Response, int], dict[str, Any]]
pytestmark = pytest.mark.usefixtures("no_new_fault")
BROWSER = "text/html,application/xhtml+xml,application/xml;q=0.9,image/avif,image/webp,*/*;q=0.8"
WRONG = [
    ("GET", "/nothing", 404),
    ("GET", "/v1/transfr", 404),
    ("GET", "/v1/alloys/sterlng-silver", 404),
    ("GET", "/v1/alloys/sterling-silver/karat", 404),
    ("GET", "/v1/alloys?colr=red&bse=Au", 422),
    ("GET", "/v1/order", 405),
    ("GET", "/v1/mass?value=1&from=oz&to=g", 422),
    ("GET", "/v1/shop/alloys", 401),
    ("DELETE", "/", 405),
    ("GET", "/v1/alloys/%3Cscript%3Ealert(1)%3C%2Fscript%3E", 404),
]


@pytest.mark.parametrize(("method", "path", "status"), WRONG)
def test_a_browser_gets_a_page_with_the_facts_of_the_json(
    web: Web, problem_of: Problem, method: str, path: str, status: int
) -> None:
    plain = web(method, path)
    document = problem_of(plain, status)
    page = web(method, path, headers={"Accept": BROWSER})
    assert page.status_code == status
    assert page.headers["Content-Type"] == "text/html; charset=utf-8"
    said = html.unescape(page.text)
    for fact in (document["title"], document["detail"], *(one["detail"] for one in document["errors"])):
        assert fact in said
    assert "<script>alert" not in page.text
    assert 'href="/">' in page.text
    assert "default-src 'none'" in page.headers["Content-Security-Policy"]
    for answer in (plain, page):
        assert answer.headers["Cache-Control"] == "no-store"
        assert "accept" in answer.headers["Vary"].lower()
    for name in ("Allow", "WWW-Authenticate"):
        assert page.headers.get(name) == plain.headers.get(name)


@pytest.mark.parametrize(
    "accept",
    [
        "*/*",
        "application/json",
        "text/*",
        "application/json, text/html",
        "text/html;q=0.4, application/json;q=0.5",
        "",
    ],
)
def test_programs_and_cells_get_json(web: Web, problem_of: Problem, accept: str) -> None:
    problem_of(web("GET", "/v1/alloys/none-such", headers={"Accept": accept}), 404)


def test_the_form_in_the_address_goes_before_the_header(web: Web, problem_of: Problem) -> None:
    problem_of(web("GET", "/v1/alloys?format=json&colr=red", headers={"Accept": BROWSER}), 422)
    cell = web("GET", "/v1/alloys/none-such?on_error=text", headers={"Accept": BROWSER})
    assert cell.text.startswith("#ERROR ")


def test_the_address_of_a_sheet_asked_for_anew_leads_to_the_form(web: Web) -> None:
    again = web("GET", "/order", allow_redirects=False)
    assert (again.status_code, again.headers["Location"]) == (302, "/")
    page = web("GET", "/order?pieces=x")
    assert page.status_code == 422
    assert page.headers["Content-Type"] == "text/html; charset=utf-8"


def test_a_near_path_is_a_link(web: Web) -> None:
    assert 'href="/v1/transfer"' in web("GET", "/v1/transfr", headers={"Accept": BROWSER}).text


@pytest.mark.parametrize("path", ["/alloys/brass", "/v1/alloys/brass/density", "/v1/alloys/brass-c2600"])
def test_an_alloy_that_may_be_meant_is_a_link_to_its_page(web: Web, path: str) -> None:
    page = web("GET", path, headers={"Accept": BROWSER}).text
    assert 'href="/alloys/brass-c26000"' in page
    assert web("GET", "/alloys/brass-c26000").status_code == 200


@pytest.mark.parametrize("name", ["page", "page_size", "sort", "fields"])
@pytest.mark.parametrize("table", ["gauges", "ring-sizes", "units.csv"])
def test_a_table_that_comes_whole_says_so(web: Web, problem_of: Problem, table: str, name: str) -> None:
    document = problem_of(web("GET", f"/v1/{table}?{name}=5"), 422)
    assert "comes whole" in document["detail"]
    assert document["errors"][0]["pointer"] == f"/{name}"


def test_the_description_is_there_to_read_without_a_script(web: Web) -> None:
    assert 'href="/openapi.yaml"' in web("GET", "/docs").text.partition("<noscript>")[2].partition("</noscript>")[0]
    text = web("GET", "/openapi.yaml")
    assert text.headers["Content-Type"] == "application/yaml"
    assert text.text.startswith("info:") or "openapi: 3.1" in text.text
