"""The store of ready answers: what it keeps, what it never keeps, and how much."""

from __future__ import annotations

import pytest

from alloyref.web.ready import CONTENT_HEADERS, Headers, ReadyAnswers, matches

Key = tuple[str, str, str]
HEADERS: Headers = [
    ("content-type", "application/json"),
    ("content-length", "2"),
    ("etag", '"a"'),
    ("cache-control", "public, max-age=300"),
    ("vary", "Accept"),
]


def key(path: str) -> Key:
    """The key of a plain read."""
    return (path, "", "*/*")


def test_what_is_kept_is_given_back_whole() -> None:
    ready = ReadyAnswers()
    ready.keep(key("/a"), HEADERS, b"{}")
    found = ready.get(key("/a"))
    assert found is not None
    assert (found.body, found.etag) == (b"{}", '"a"')
    assert dict(HEADERS).items() <= dict(found.headers).items()
    names = {name for name, _ in found.headers_304}
    assert {"etag", "cache-control", "vary"} <= names
    assert not names & CONTENT_HEADERS


@pytest.mark.parametrize("other", [("/b", "", "*/*"), ("/a", "page=2", "*/*"), ("/a", "", "text/csv")])
def test_another_path_query_or_accept_is_another_answer(other: Key) -> None:
    ready = ReadyAnswers()
    ready.keep(key("/a"), HEADERS, b"{}")
    assert ready.get(other) is None


@pytest.mark.parametrize(
    "headers",
    [
        [],
        [pair for pair in HEADERS if pair[0] != "etag"],
        [pair for pair in HEADERS if pair[0] != "cache-control"],
        [*(pair for pair in HEADERS if pair[0] != "cache-control"), ("cache-control", "no-store")],
        [*(pair for pair in HEADERS if pair[0] != "cache-control"), ("cache-control", "private, max-age=300")],
    ],
)
def test_only_a_public_answer_with_a_validator_is_kept(headers: Headers) -> None:
    ready = ReadyAnswers()
    ready.keep(key("/a"), headers, b"{}")
    assert ready.get(key("/a")) is None


def test_names_of_headers_are_taken_in_any_case() -> None:
    ready = ReadyAnswers()
    ready.keep(key("/a"), [(name.title(), value) for name, value in HEADERS], b"{}")
    found = ready.get(key("/a"))
    assert found is not None
    assert not {name.lower() for name, _ in found.headers_304} & CONTENT_HEADERS


def test_the_least_lately_used_goes_first() -> None:
    ready = ReadyAnswers(most_answers=3)
    for path in ("/a", "/b", "/c"):
        ready.keep(key(path), HEADERS, b"{}")
    assert ready.get(key("/a")) is not None
    ready.keep(key("/d"), HEADERS, b"{}")
    assert [path for path in ("/a", "/b", "/c", "/d") if ready.get(key(path))] == ["/a", "/c", "/d"]


def test_bytes_are_bounded_whatever_the_number() -> None:
    ready = ReadyAnswers(most_bytes=1000)
    for number in range(50):
        ready.keep(key(f"/{number:02}"), HEADERS, b"x" * 194)
    kept = [number for number in range(50) if ready.get(key(f"/{number:02}"))]
    # 194 bytes of body and 6 of key each: five fit, and they are the last.
    assert kept == [45, 46, 47, 48, 49]


def test_a_long_query_counts_too() -> None:
    ready = ReadyAnswers(most_bytes=1000)
    for number in range(50):
        ready.keep(("/a", f"q={number:02}" + "x" * 190, ""), HEADERS, b"")
    assert sum(ready.get(("/a", f"q={number:02}" + "x" * 190, "")) is not None for number in range(50)) == 5


def test_one_answer_may_not_drive_out_the_rest() -> None:
    ready = ReadyAnswers(most_bytes=1000)
    ready.keep(key("/a"), HEADERS, b"{}")
    ready.keep(key("/huge"), HEADERS, b"x" * 300)
    assert ready.get(key("/huge")) is None
    assert ready.get(key("/a")) is not None


def test_keeping_again_replaces_and_counts_once() -> None:
    ready = ReadyAnswers(most_bytes=1000)
    ready.keep(key("/b"), HEADERS, b"b" * 100)
    for number in range(200):
        ready.keep(key("/a"), HEADERS, b"%03d" % number * 60)
    found = ready.get(key("/a"))
    assert found is not None
    assert found.body == b"199" * 60
    assert ready.get(key("/b")) is not None


@pytest.mark.parametrize(
    ("sent", "held"),
    [
        ('"a"', True),
        ('W/"a"', True),
        ("*", True),
        (" * ", True),
        ('"b", "a"', True),
        ('"b",W/"a"', True),
        ('"b" , "a" ', True),
        ('"b"', False),
        ('W/"b"', False),
        ("a", False),
        ('"A"', False),
        ('"a', False),
        ('w/"a"', False),
        ("", False),
        (",", False),
        ('"aa"', False),
    ],
)
def test_a_validator_is_compared_weakly(sent: str, held: bool) -> None:
    assert matches(sent, '"a"') is held
