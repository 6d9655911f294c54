"""JSON documents that are made to cost time."""

from __future__ import annotations

import pytest

from alloyref.web.schemas.document import _unique, parse


class Name(str):
    """A name that counts how often it is compared."""

    __slots__ = ()
    compared = 0

    def __eq__(self, other: object) -> bool:
        Name.compared += 1
        return super().__eq__(other)

    __hash__ = str.__hash__


def test_a_name_that_stands_twice_is_found_without_comparing_each_with_all() -> None:
    names = [str(number) for number in range(2000)]
    Name.compared = 0
    with pytest.raises(ValueError, match="'1999' stands twice"):
        _unique([(Name(name), 1) for name in [*names, names[-1]]])
    assert Name.compared < len(names)


def test_the_first_of_several_names_that_stand_twice_is_told() -> None:
    with pytest.raises(ValueError, match="'b' stands twice in one object"):
        parse('{"a": 1, "b": 1, "c": 1, "c": 2, "b": 2}')
