"""Questions to the catalogue against the same question asked of the domain objects in plain Python."""

from __future__ import annotations

import re
from collections.abc import Callable
from decimal import Decimal
from typing import Any
from urllib.parse import parse_qsl, urlsplit

import pytest
import requests

from alloyref.domain.metal import Alloy
from alloyref.domain.reference import Reference

Web = Callable[..., requests.Response]
Keep = Callable[[Alloy], bool]
pytestmark = pytest.mark.usefixtures("no_new_fault")
LINK = re.compile(r'<([^>]*)>; rel="([a-z]+)"')


def karat_near(alloy: Alloy, karat: str) -> bool:
    return alloy.metal.base == "Au" and abs(alloy.metal.fineness * 24 / 1000 - Decimal(karat)) <= Decimal("0.5")


def words_of(alloy: Alloy) -> str:
    return " ".join((alloy.id, alloy.metal.name, *alloy.aliases, alloy.family, alloy.colour, alloy.note)).casefold()


QUESTIONS: list[tuple[dict[str, str], Keep]] = [
    ({}, lambda _: True),
    ({"base": "Au"}, lambda one: one.metal.base == "Au"),
    ({"base": "Pt"}, lambda one: one.metal.base == "Pt"),
    ({"family": "copper-alloy"}, lambda one: one.family == "copper-alloy"),
    ({"colour": "yellow"}, lambda one: one.colour == "yellow"),
    ({"karat": "14"}, lambda one: karat_near(one, "14")),
    ({"karat": "18"}, lambda one: karat_near(one, "18")),
    ({"karat": "14k"}, lambda one: karat_near(one, "14")),
    *(
        ({"karat": said}, lambda one: karat_near(one, "14"))
        for said in ("14 Karat", "14 ct", "14ct", "14kt", "14 carat")
    ),
    ({"base": "gold"}, lambda one: one.metal.base == "Au"),
    ({"base": "ag"}, lambda one: one.metal.base == "Ag"),
    ({"colour": "Yellow"}, lambda one: one.colour == "yellow"),
    ({"free_of": "nickel"}, lambda one: not one.contains("Ni")),
    ({"free_of": "Nickel,cd"}, lambda one: not one.contains("Ni") and not one.contains("Cd")),
    ({"contains": "PALLADIUM"}, lambda one: one.contains("Pd")),
    ({"karat": "9.3"}, lambda one: karat_near(one, "9.3")),
    ({"fineness_min": "925"}, lambda one: one.metal.fineness >= 925),
    ({"fineness_max": "585"}, lambda one: one.metal.fineness <= 585),
    ({"fineness_min": "583.3", "fineness_max": "585"}, lambda one: Decimal("583.3") <= one.metal.fineness <= 585),
    ({"contains": "Pd"}, lambda one: one.contains("Pd")),
    ({"contains": "Pd,Ag"}, lambda one: one.contains("Pd") and one.contains("Ag")),
    ({"free_of": "Ni"}, lambda one: not one.contains("Ni")),
    (
        {"free_of": "Ni,Cd,Zn", "base": "Au"},
        lambda one: one.metal.base == "Au" and not any(map(one.contains, ("Ni", "Cd", "Zn"))),
    ),
    (
        {"contains": "Zn", "free_of": "Cd", "use": "solder"},
        lambda one: one.contains("Zn") and not one.contains("Cd") and "solder" in one.uses,
    ),
    *(({"use": use}, lambda one, use=use: use in one.uses) for use in ("casting", "solder", "trial", "stock")),
    ({"q": "ROSE"}, lambda one: "rose" in words_of(one)),
    ({"q": "14 white"}, lambda one: "14" in words_of(one) and "white" in words_of(one)),
    ({"q": "100%"}, lambda one: "100%" in words_of(one)),
    ({"q": "_"}, lambda one: "_" in words_of(one)),
    (
        {"base": "Au", "colour": "white", "use": "casting"},
        lambda one: one.metal.base == "Au" and one.colour == "white" and "casting" in one.uses,
    ),
]


@pytest.mark.parametrize(("question", "keep"), QUESTIONS, ids=[str(question) for question, _ in QUESTIONS])
def test_a_filter_keeps_what_it_says(web: Web, reference: Reference, question: dict[str, str], keep: Keep) -> None:
    expected = sorted(one.id for one in reference.alloys.values() if keep(one))
    document = web("GET", "/v1/alloys", params={**question, "page_size": "500"}).json()
    assert [one["id"] for one in document["alloys"]] == expected
    assert document["total"] == len(expected)


def test_the_filters_tested_are_not_all_empty(reference: Reference) -> None:
    counts = [sum(map(keep, reference.alloys.values())) for _, keep in QUESTIONS]
    assert sum(0 < count < len(reference.alloys) for count in counts) >= 18


@pytest.mark.parametrize("name", ["id", "name", "fineness", "density", "solidus", "liquidus"])
@pytest.mark.parametrize("sign", ["", "-"])
def test_sorting_puts_the_unknown_last_and_ties_by_id(web: Web, reference: Reference, name: str, sign: str) -> None:
    def value(one: Alloy) -> Any:
        found = one.id if name == "id" else getattr(one.metal, name)
        return getattr(found, "value", found)

    alloys = sorted(reference.alloys.values(), key=lambda one: one.id)
    known = sorted((one for one in alloys if value(one) is not None), key=value, reverse=bool(sign))
    unknown = [one for one in alloys if value(one) is None]
    document = web("GET", "/v1/alloys", params={"sort": sign + name, "page_size": "500"}).json()
    assert [one["id"] for one in document["alloys"]] == [one.id for one in (*known, *unknown)]


def test_fields_narrow_json_and_csv(web: Web) -> None:
    params = {"fields": "density,id", "page_size": "3"}
    rows = web("GET", "/v1/alloys", params=params).json()["alloys"]
    assert [set(row) for row in rows] == [{"id", "density"}] * 3
    header = web("GET", "/v1/alloys.csv", params=params).text.splitlines()[0]
    wanted = ["id", *(f"density{part}" for part in ("", "_low", "_high", "_unit", "_status", "_source"))]
    assert sorted(header.split(",")) == sorted(wanted)


@pytest.mark.parametrize(
    ("params", "pointer", "suggestion"),
    [
        ({"colr": "white"}, "/colr", "colour"),
        ({"sort": "densty"}, "/sort", "density"),
        ({"use": "cast"}, "/use", "casting"),
        ({"fields": "id,densty"}, "/fields", "density"),
        ({"contains": "Pdd"}, "/contains", "Pd"),
        ({"free_of": "Ni,nickl"}, "/free_of", "Nickel"),
        ({"base": "golld"}, "/base", "Gold"),
        ({"karat": "14 cts"}, "/karat", None),
        ({"fineness_min": "900", "fineness_max": "800"}, "/fineness_min", None),
        ({"karat": "25"}, "/karat", None),
        ({"fineness_min": "-1"}, "/fineness_min", None),
        ({"page": "0"}, "/page", None),
        ({"page_size": "501"}, "/page_size", None),
        ({"page_size": "1.5"}, "/page_size", None),
        ({"q": "a\u0000b"}, "/q", None),
        ({"base": ["Au", "Ag"]}, "/base", None),
        ({"format": "text"}, "/format", None),
        ({"on_error": "perhaps"}, "/on_error", "text"),
    ],
)
def test_a_wrong_question_is_refused_in_its_place(
    web: Web,
    problem_of: Callable[[requests.Response, int], dict[str, Any]],
    params: dict[str, Any],
    pointer: str,
    suggestion: str | None,
) -> None:
    errors = problem_of(web("GET", "/v1/alloys", params=params), 422)["errors"]
    assert [issue["pointer"] for issue in errors] == [pointer]
    assert suggestion is None or suggestion in errors[0]["suggestions"]


@pytest.mark.parametrize("suffix", ["", ".csv"])
def test_links_walk_all_pages_without_loss_or_repeat(web: Web, reference: Reference, suffix: str) -> None:
    expected = [one.id for one in sorted(reference.alloys.values(), key=lambda one: (-one.metal.fineness, one.id))]
    path: str | None = f"/v1/alloys{suffix}?page_size=25&sort=-fineness&fields=id"
    seen: list[str] = []
    relations = []
    while path is not None:
        response = web("GET", path)
        assert response.status_code == 200
        links = {name: target for target, name in LINK.findall(response.headers["Link"])}
        relations.append(set(links))
        if suffix:
            seen += response.text.split()[1:]
        else:
            seen += [row["id"] for row in response.json()["alloys"]]
        path = links.get("next")
        assert path is None or urlsplit(path).path == f"/v1/alloys{suffix}"
        assert len(relations) < 20
    assert seen == expected
    assert relations[0] == {"first", "next", "last"}
    assert relations[-1] == {"first", "prev", "last"}
    assert all(inner == {"first", "prev", "next", "last"} for inner in relations[1:-1])


def test_links_keep_the_question(web: Web) -> None:
    question = {"q": "14 ct", "free_of": "Ni,Cd", "page_size": "2", "page": "2"}
    links = {name: target for target, name in LINK.findall(web("GET", "/v1/alloys", params=question).headers["Link"])}
    for name, number in (("first", "1"), ("prev", "1"), ("next", "3")):
        assert dict(parse_qsl(urlsplit(links[name]).query)) == {**question, "page": number}


@pytest.mark.parametrize(
    ("question", "meant"), [({"base": "Ax"}, "Au"), ({"family": "golld"}, "gold"), ({"colour": "yelow"}, "yellow")]
)
def test_a_word_that_no_alloy_has_is_refused_with_those_near_it(
    web: Web, question: dict[str, str], meant: str
) -> None:
    answer = web("GET", "/v1/alloys", params=question)
    assert answer.status_code == 422
    (issue,) = answer.json()["errors"]
    assert issue["pointer"] == f"/{next(iter(question))}"
    assert meant in issue["suggestions"]


@pytest.mark.parametrize(
    ("said", "words"), [("14k", {"gold"}), ("rose gold", {"gold", "rose"}), ("white gold", {"gold", "white"})]
)
def test_an_everyday_name_is_answered_with_alloys_of_that_name(
    web: Web, reference: Reference, said: str, words: set[str]
) -> None:
    (issue,) = web("GET", f"/v1/alloys/{said}").json()["errors"]
    assert issue["suggestions"]
    for id_ in issue["suggestions"]:
        assert words <= set(words_of(reference.alloys[id_]).replace("-", " ").split())


def test_an_element_is_found_by_its_name(web: Web) -> None:
    (issue,) = web("GET", "/v1/elements/gold").json()["errors"]
    assert issue["suggestions"] == ["Au"]
