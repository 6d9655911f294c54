"""What an order says comes back is pasted into a recovery, however much of the answer it is."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import requests

Web = Callable[..., requests.Response]
Problem = Callable[[requests.Response, int], dict[str, Any]]


def test_the_list_its_object_and_the_whole_answer_are_the_same(web: Web, sound_order: dict[str, Any]) -> None:
    answer = web("POST", "/v1/order", json=sound_order).json()
    returns = answer["result"]["returns"]
    said = [
        web("POST", "/v1/recovery", json={"order_returns": pasted})
        for pasted in (returns["items"], returns, answer["result"], answer)
    ]
    assert [one.status_code for one in said] == [200] * 4, said[-1].text
    assert said[0].json()["result"]["lots"]
    assert all(one.json() == said[0].json() for one in said)


def test_what_holds_no_list_is_refused_with_the_hint(web: Web, problem_of: Problem) -> None:
    (issue,) = problem_of(web("POST", "/v1/recovery", json={"order_returns": {"mass": 1}}), 422)["errors"]
    assert (issue["pointer"], issue["code"]) == ("/order_returns", "not-a-list")
    assert "result.returns.items" in issue["detail"]


def test_a_fault_within_is_told_where_it_is(web: Web, problem_of: Problem) -> None:
    body = {"order_returns": {"items": [{"mass": "1 oz", "metal": "Au"}]}}
    (issue,) = problem_of(web("POST", "/v1/recovery", json=body), 422)["errors"]
    assert (issue["pointer"], issue["code"]) == ("/order_returns/items/0/mass", "unit-ambiguous")
