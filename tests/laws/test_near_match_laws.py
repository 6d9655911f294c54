"""Near matches of misspelt names: what is offered is taken when it is written, and the id that was meant is there."""

from __future__ import annotations

import string

from hypothesis import given
from hypothesis import strategies as st

from alloyref.domain.errors import InvalidInput, Issue, nearest, one_slip_off
from alloyref.domain.reference import Reference

SLIPS = ("left out", "doubled", "another", "changed about")
LETTERS = st.sampled_from(string.ascii_lowercase)


def misspelt(name: str, place: int, slip: str, other: str) -> str:
    """The name with one letter wrong."""
    before, letter, behind = name[:place], name[place], name[place + 1 :]
    wrong = {
        "left out": behind,
        "doubled": letter * 2 + behind,
        "another": other + behind,
        "changed about": behind[:1] + letter + behind[1:],
    }
    return before + wrong[slip]


def refusal(reference: Reference, name: str) -> Issue | None:
    """Why a name means no metal; None if it means one."""
    try:
        reference.metal(name)
    except InvalidInput as error:
        return error.issues[0]
    return None


@given(data=st.data())
def test_an_id_with_one_wrong_letter_brings_that_id(reference: Reference, data: st.DataObject) -> None:
    id_ = data.draw(st.sampled_from([*reference.alloys, *reference.trade_names]))
    place = data.draw(st.sampled_from([place for place, letter in enumerate(id_) if letter.isalpha()]))
    written = misspelt(id_, place, data.draw(st.sampled_from(SLIPS)), data.draw(LETTERS))
    issue = refusal(reference, written)
    assert issue is None or id_ in issue.suggestions
    if id_ in reference.alloys and reference.names.symbol(written) is None and written != id_:
        assert issue is None or id_ in reference.near_alloys(written)


@given(data=st.data())
def test_every_suggested_metal_is_taken_when_it_is_written(reference: Reference, data: st.DataObject) -> None:
    names = [name for alloy in reference.alloys.values() for name in (alloy.id, alloy.metal.name, *alloy.aliases)]
    names += [spelling for trade in reference.trade_names.values() for spelling in trade.spellings]
    name = data.draw(st.sampled_from(names))
    for _ in range(data.draw(st.integers(1, 4))):
        place = data.draw(st.integers(0, len(name) - 1))
        name = misspelt(name, place, data.draw(st.sampled_from(SLIPS)), data.draw(LETTERS)) or name
    issue = refusal(reference, name)
    for suggestion in issue.suggestions if issue else ():
        assert reference.metal(suggestion).id == suggestion


@given(data=st.data())
def test_other_ids_with_one_wrong_letter_bring_that_id(reference: Reference, data: st.DataObject) -> None:
    known = data.draw(st.sampled_from([tuple(reference.patterns), tuple(reference.stones), tuple(reference.sources)]))
    id_ = data.draw(st.sampled_from([one for one in known if len(one) > 3]))
    place = data.draw(st.integers(0, len(id_) - 1))
    written = misspelt(id_, place, data.draw(st.sampled_from(SLIPS)), data.draw(LETTERS))
    assert id_ in nearest(written, known)
    assert id_ in one_slip_off(written, known, len(known))
