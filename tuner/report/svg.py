"""Drawings made fit for a page: ids of their own, colours by the page's names, nothing that points elsewhere.

A drawing is drawn in stand-in colours; each becomes a variable of the style sheet, so that one drawing serves light and
dark pages and print. What a drawing library adds (metadata, style rules for the whole document, fonts) is taken out.
"""

from __future__ import annotations

import re
from html import escape

# Stand-in colours, each different from any that a colour map holds.
INK, DIM, RULE, PAPER = "#010203", "#010204", "#010205", "#010206"
BEFORE, AFTER, ROOM, HEARING, WATER = "#010207", "#010208", "#010209", "#01020a", "#01020b"
_VARIABLES = {
    INK: "--ink", DIM: "--dim", RULE: "--rule", PAPER: "--paper", BEFORE: "--before", AFTER: "--after", ROOM: "--room",
    HEARING: "--hearing", WATER: "--water",
}
_FONT = re.compile(r" ?font-family: [^;\"]*;?")
_ALL_IDS = re.compile(r' id="([^"]*)"')
_POINTS_TO = re.compile(r'(?:xlink:)?href="#([^"]*)"')
_URL = re.compile(r"url\(#([^)]*)\)")


def fit_for_page(svg: str, name: str, title: str, description: str) -> str:
    """Return a drawing as an element of a page.

    Parameters
    ----------
    svg
        The drawing, as a file of its own would hold it, with a viewBox.
    name
        Stands before every id; unique on the page.
    title, description
        The text alternative; any characters.
    """
    body = svg[svg.index("<svg"):]
    view = re.search(r'viewBox="([-0-9. ]+)"', body)
    if view is None:
        raise AssertionError("a drawing has a viewBox")
    body = body[body.index(">") + 1 : body.rindex("</svg>")]
    body = re.sub(r"<metadata>.*?</metadata>|<style[^>]*>.*?</style>|<!--.*?-->", "", body, flags=re.DOTALL)
    body = _FONT.sub("", body).replace(' style=""', "")
    used = set(_POINTS_TO.findall(body)) | set(_URL.findall(body))
    body = _ALL_IDS.sub(lambda m: f' id="{name}-{m[1]}"' if m[1] in used else "", body)
    body = _POINTS_TO.sub(lambda m: f'href="#{name}-{m[1]}"', body)
    body = _URL.sub(lambda m: f"url(#{name}-{m[1]})", body).replace("xlink:href=", "href=")
    for colour, variable in _VARIABLES.items():
        body = body.replace(colour, f"var({variable})")
    body = re.sub(r"\s*\n\s*", "\n", re.sub(r"base64,\s+", "base64,", body)).strip()
    return (
        f'<svg viewBox="{view[1]}" role="img" aria-labelledby="{name}-t {name}-d"><title id="{name}-t">{escape(title)}'
        f'</title><desc id="{name}-d">{escape(description)}</desc>\n{body}\n</svg>'
    )
