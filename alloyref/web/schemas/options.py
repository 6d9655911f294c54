"""Command options from declarations: `--trial-mass "6.31 g"` stands for `{"trial": {"mass": "6.31 g"}}`.

No framework here: the command line makes its options of this, and a page shows the command that says the same.
"""

from __future__ import annotations

import json
import shlex
from collections.abc import Iterator, Mapping
from typing import Any

from alloyref.domain.calculation import Item, Record, items

Path = tuple[str, ...]


def flat(type_: type, prefix: Path = (), optional: bool = False) -> Iterator[tuple[Path, Item]]:
    """Each declared input that an option can hold, with its place in the nested input."""
    for one in items(type_).values():
        kind = one.kind
        path = (*prefix, one.name)
        if isinstance(kind, Record):
            yield from flat(kind.type, path, optional or one.optional)
        else:
            yield path, one


def option_name(path: Path) -> str:
    """The option for a place in the input."""
    return "--" + "-".join(path).replace("_", "-")


def command_line(command: str, type_: type, data: Mapping[str, Any]) -> str:
    """The command, ready for a shell, that asks the same as a nested input.

    A negative number would be taken for an option, so each value is joined to its option.
    """
    words = ["alloyref", command]
    for path, _ in flat(type_):
        value = _at(data, path)
        for one in value if isinstance(value, list) else [value] if value is not None else []:
            text = one if isinstance(one, str) else json.dumps(one, ensure_ascii=False)
            words.append(f"{option_name(path)}={shlex.quote(text)}")
    return " ".join(words)


def _at(data: Any, path: Path) -> Any:
    for step in path:
        if not isinstance(data, Mapping) or step not in data:
            return None
        data = data[step]
    return data
