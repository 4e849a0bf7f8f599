"""The README's pictures: they are there, they need nothing from outside, and the command draws them."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from rich.text import Text

from tests.pictures import pages
from tests.pictures.drawing import page_svg

ROOT = Path(__file__).resolve().parents[1]
SHOWN = sorted(set(re.findall(r"\]\((tests/pictures/[^)]+)\)", (ROOT / "README.md").read_text(encoding="utf-8"))))
DRAWN = sorted(str(path.relative_to(ROOT)) for path in (ROOT / "tests" / "pictures").glob("*.svg"))


def words_of(svg: str) -> str:
    return " ".join("".join(ET.fromstring(svg).itertext()).replace("\xa0", " ").split())


def test_every_picture_is_shown_and_every_shown_one_is_there() -> None:
    assert SHOWN
    assert SHOWN == DRAWN


@pytest.mark.parametrize("name", SHOWN)
def test_a_picture_needs_nothing_from_outside(name: str) -> None:
    svg = (ROOT / name).read_text(encoding="utf-8")
    assert ET.fromstring(svg).tag.endswith("svg")
    assert set(re.findall(r"https?://[^\"')\s]+", svg)) == {"http://www.w3.org/2000/svg"}
    assert len(svg) < 150_000


def test_the_command_draws_the_program_s_own_page(tmp_path: Path) -> None:
    [(name, svg)] = pages.pictures(tmp_path)
    assert name == "welcome"
    assert words_of(svg) == words_of((ROOT / "tests" / "pictures" / "welcome.svg").read_text(encoding="utf-8"))


def test_the_same_page_gives_the_same_picture() -> None:
    assert page_svg(Text("as before"), "one") == page_svg(Text("as before"), "one")
    assert "as before" in words_of(page_svg(Text("as before"), "one"))
