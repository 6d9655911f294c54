"""A refusal that many rows of one request are told costs no more for each of them."""

from __future__ import annotations

import pytest
from flask import Flask

from alloyref.shop.errors import KeyRefused
from alloyref.web.access import good_key


def test_the_same_refusal_holds_no_more_frames_each_time(app: Flask) -> None:
    frames = []
    with app.test_request_context("/v1/mass"):
        for _ in range(4):
            with pytest.raises(KeyRefused) as caught:
                good_key()
            frames.append(len(caught.traceback))
    assert frames[1:] == [frames[1]] * 3
    assert frames[1] <= frames[0]
