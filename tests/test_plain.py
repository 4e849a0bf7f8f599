from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tuner.plain import plain


@pytest.mark.parametrize(("text", "shown"), [
    ("Kelpie's <b>\"tank\"</b> ../../x", "Kelpie's <b>\"tank\"</b> ../../x"),
    ("a\x1b]0;title\x07b", r"a\x1b]0;title\x07b"),
    ("\x9b31m", r"\x9b31m"),
    ("two\nlines\r\n", "two lines  "),
    ("abc\u202edcba\u2066", r"abc\u202edcba\u2066"),
    ("水 é ñ 🐟", "水 é ñ 🐟"),
    ("half \ud800", r"half \ud800"),
])
def test_what_a_terminal_would_obey_is_shown(text: str, shown: str) -> None:
    assert plain(text) == shown


@given(st.text())
def test_nothing_that_acts_is_left(text: str) -> None:
    assert not any(unicodedata.category(c) in ("Cc", "Cs", "Zl", "Zp") for c in plain(text))
