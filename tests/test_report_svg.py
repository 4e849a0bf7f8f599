from __future__ import annotations

import xml.etree.ElementTree as ET

from tuner.report.svg import AFTER, INK, fit_for_page

DRAWING = f"""<?xml version="1.0"?><!DOCTYPE svg>
<svg xmlns:xlink="http://www.w3.org/1999/xlink" width="9pt" viewBox="0 0 9 9">
 <metadata><x href="https://elsewhere.example"/></metadata><style type="text/css">*{{stroke: red}}</style>
 <defs><clipPath id="p1"><rect width="9" height="9"/></clipPath><path id="m1" d="M0 0"/></defs>
 <g id="unused" clip-path="url(#p1)"><use xlink:href="#m1" style="fill: {INK}; stroke: {AFTER}"/></g>
</svg>"""


def test_ids_are_the_drawings_own_and_colours_are_names() -> None:
    made = fit_for_page(DRAWING, "here", "A title", "words")
    root = ET.fromstring(made)
    ids = [element.get("id") for element in root.iter() if element.get("id")]
    assert ids == ["here-t", "here-d", "here-p1", "here-m1"]
    assert 'clip-path="url(#here-p1)"' in made
    assert 'href="#here-m1"' in made
    assert "fill: var(--ink); stroke: var(--after)" in made


def test_what_reaches_beyond_the_drawing_is_left_out() -> None:
    made = fit_for_page(DRAWING, "here", "A title", "words")
    for part in ("metadata", "<style", "xlink", "http", "<?xml", "DOCTYPE", "9pt"):
        assert part not in made


def test_title_and_words_are_text() -> None:
    made = fit_for_page(DRAWING, "here", '</title><script>"', "a < b & c > d")
    root = ET.fromstring(made)
    assert [element.text for element in root[:2]] == ['</title><script>"', "a < b & c > d"]
    assert not list(root.iter("script"))
