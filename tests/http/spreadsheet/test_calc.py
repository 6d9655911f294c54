"""A real spreadsheet asks the running service, in a country of the decimal point and in one of the comma."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
import requests
import xlsxwriter

Web = Callable[..., requests.Response]
LOCALES = pytest.mark.parametrize("locale", ["en-US", "de-DE"])
MARKS = {"en-US": ".", "de-DE": ","}


def number(shown: str, mark: str) -> Decimal:
    """A number as a cell shows it."""
    return Decimal(shown.replace(mark, "."))


@LOCALES
def test_the_example_workbook_shows_what_the_service_says(
    recalculate: Callable[..., Any], server: Any, web: Web, tmp_path: Path, locale: str
) -> None:
    mark = MARKS[locale]
    book = tmp_path / "bench.xlsx"
    command = [sys.executable, "-m", "alloyref", "workbook", str(book), "--address", server.address]
    subprocess.run(command, check=True, capture_output=True)
    sheets = recalculate(book, locale)
    heads, *lots = sheets["Stock"]
    assert heads[0] == "Lot"
    assert len(lots) == 10
    for _, _, metal, mass, density, fineness, fine in lots:
        served = {
            name: Decimal(web("GET", f"/v1/alloys/{metal}/{name}?format=text").text)
            for name in ("density", "fineness")
        }
        assert number(density, mark) == round(served["density"], 2)
        assert number(fineness, mark) == served["fineness"]
        assert abs(number(fine, mark) - number(mass, mark) * served["fineness"] / 1000) <= Decimal("0.005")
    _, *trials = sheets["Trials"]
    for _, metal, weighed, wanted, as_cast, note in trials:
        asked = {"mass": str(number(weighed, mark)), "unit": "g", "from_metal": metal, "to_metal": wanted}
        served_mass = Decimal(web("GET", "/v1/transfer", params={**asked, "format": "text"}).text)
        assert number(as_cast, mark) == round(served_mass, 2)
        assert note == ""


@LOCALES
def test_a_mistake_is_readable_in_the_cell(
    recalculate: Callable[..., Any], server: Any, tmp_path: Path, locale: str
) -> None:
    book = tmp_path / "mistake.xlsx"
    path = "/v1/alloys/sterlng-silver/density?format=text&on_error=text"
    with xlsxwriter.Workbook(str(book)) as made:
        made.add_worksheet("One").write_formula(0, 0, f'=_xlfn.WEBSERVICE("{server.address}{path}")')
    shown = recalculate(book, locale)["One"][0][0]
    assert shown.startswith("#ERROR")
    assert "sterling-silver" in shown


def test_a_cell_of_a_comma_country_gets_and_gives_commas(
    recalculate: Callable[..., Any], server: Any, web: Web, tmp_path: Path
) -> None:
    book = tmp_path / "comma.xlsx"
    start = f'"{server.address}/v1/transfer?format=text&decimal=,&unit=dwt&from_metal=sterling-silver'
    with xlsxwriter.Workbook(str(book)) as made:
        sheet = made.add_worksheet("One")
        sheet.write_number(0, 0, 4.82)
        asked = f'_xlfn.WEBSERVICE({start}&to_metal=fine-gold&mass="&A1)'
        sheet.write_formula(0, 1, f"={asked}")
        sheet.write_formula(0, 2, f"=VALUE({asked})*2")
    row = recalculate(book, "de-DE")["One"][0]
    served = web(
        "GET", "/v1/transfer?format=text&mass=4.82&unit=dwt&from_metal=sterling-silver&to_metal=fine-gold"
    ).text
    assert row[0] == "4,82"
    assert row[1] == served.replace(".", ",")
    assert number(row[2], ",") == 2 * Decimal(served)


@pytest.mark.parametrize(("tokens", "query"), [("44,34,76,1,,1033", ""), ("59,34,76,1,,1031", "?decimal=,")])
def test_a_table_is_imported_by_its_address(
    importer: Callable[..., str], server: Any, web: Web, tokens: str, query: str
) -> None:
    text = importer(f"CSV:{tokens},false,true", f"{server.address}/v1/alloys.csv{query}")
    fine = web("GET", "/v1/alloys/fine-silver").json()
    # A number, not a text: the cell has a value of type float.
    assert f'office:value-type="float" office:value="{fine["density"]["value"]}"' in text
    assert text.count("<table:table-row") > len(web("GET", "/v1/alloys?page_size=500&fields=id").json()["alloys"])
