"""What the gateway hands to the application of a request."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from alloyref.web.gateway import environ


@pytest.mark.parametrize("space", [" ", "\t", " \t"])
def test_spaces_within_accept_are_one_and_elsewhere_what_they_were(space: str) -> None:
    many = space * 2000
    headers = {"accept": f"text/csv{many};q=0.5,{many}*/*", "user-agent": f"a{many}b"}
    scope = SimpleNamespace(
        server="127.0.0.1:80",
        client="127.0.0.1:9",
        method="GET",
        path="/",
        query_string="",
        http_version="1.1",
        scheme="http",
        headers=headers,
    )
    made = environ(scope, b"")
    assert made["HTTP_ACCEPT"] == "text/csv ;q=0.5, */*"
    assert made["HTTP_USER_AGENT"] == headers["user-agent"]
