"""What the service refuses, as one exception."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import requests


@dataclass(frozen=True, slots=True)
class Choice:
    """Something that a name may have meant: the id to write for it, its name, and what it is."""

    id: str
    name: str
    what: str


@dataclass(frozen=True, slots=True)
class Issue:
    """One fault: its place in what was sent (JSON pointer), a code, words, and what would have been right.

    `choices` tell of those suggestions that have a name what they are.
    """

    pointer: str
    code: str
    detail: str
    suggestions: tuple[str, ...] = ()
    choices: tuple[Choice, ...] = ()


class ServiceProblem(Exception):
    """A refusal of the service, as its problem document (RFC 9457) tells it.

    `type`, `title`, `status` and `detail` say what happened, `issues` where. `retry_after` is the header of that
    name, where the service said when to come back. A service that does not answer at all is no problem of this
    kind: that stays an exception of requests.

    >>> problem = ServiceProblem(422, {"title": "The input breaks a rule", "detail": "No unit.", "errors": [
    ...     {"pointer": "/mass", "code": "unit-missing", "detail": "No unit.", "suggestions": ["g", "dwt"]}]})
    >>> print(problem)
    422 The input breaks a rule: No unit.
      /mass: No unit. (g, dwt)
    >>> print(ServiceProblem(422, {"title": "Wrong", "errors": [{"pointer": "/metal", "code": "unknown-metal",
    ...     "detail": "Did you mean sterling-silver?", "suggestions": ["sterling-silver"]}]}))
    422 Wrong
      /metal: Did you mean sterling-silver?
    """

    def __init__(self, status: int, document: Mapping[str, Any], retry_after: str | None = None) -> None:
        self.status = status
        self.type = str(document.get("type", "about:blank"))
        self.title = str(document.get("title", ""))
        self.detail = str(document.get("detail", ""))
        self.issues = tuple(
            Issue(
                one["pointer"],
                one["code"],
                one["detail"],
                tuple(one["suggestions"]),
                tuple(Choice(choice["id"], choice["name"], choice["what"]) for choice in one.get("choices", ())),
            )
            for one in document.get("errors", ())
        )
        self.retry_after = retry_after
        super().__init__(self._words())

    def _words(self) -> str:
        head = f"{self.status} " + ": ".join(part for part in (self.title, self.detail) if part)
        lines = [f"  {one.pointer or '/'}: {one.detail}{_untold(one)}" for one in self.issues]
        return "\n".join([head, *lines])


def _untold(issue: Issue) -> str:
    """Its suggestions, but for those that its words name already."""
    told = re.findall(r"[\w:/.-]*\w", issue.detail)
    untold = [one for one in issue.suggestions if one not in told]
    return f" ({', '.join(untold)})" if untold else ""


def problem_of(response: requests.Response) -> ServiceProblem:
    """The problem in a response; a refusal that is no problem document, as of a proxy, is told by its type."""
    kind = response.headers.get("Content-Type", "no type")
    try:
        document = json.loads(response.text)
        return ServiceProblem(response.status_code, document, response.headers.get("Retry-After"))
    except (ValueError, KeyError, TypeError, AttributeError):
        told = {"title": response.reason or "", "detail": f"The answer is no problem document but of {kind}."}
        return ServiceProblem(response.status_code, told, response.headers.get("Retry-After"))
