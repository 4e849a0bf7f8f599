"""The page in a real browser: nothing asked for, nothing on the console, no wider than a phone, and printable."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.chromium import Chromium, Tab, browser_path, chromium
from tests.pages import HOSTILE, example_rig, kept, material, page

pytestmark = pytest.mark.skipif(
    browser_path() is None, reason="needs Chromium (Debian: apt-get install chromium); 'make check-page' asks for more"
)


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Chromium]:
    with chromium(tmp_path_factory.mktemp("profile")) as running:
        yield running


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("pages")
    path = kept(folder / "logbook.sqlite", HOSTILE, rig=example_rig(folder))
    file = folder / "page.html"
    file.write_text(page(material(path, "1", "2")), encoding="utf-8")
    return file


@pytest.mark.parametrize(("width", "theme"), [(390, "dark"), (390, "light"), (1280, "dark")])
def test_the_page_is_quiet_and_fits(browser: Chromium, hostile: Path, width: int, theme: str) -> None:
    tab = Tab(browser, hostile, width, theme)
    assert tab.value("document.documentElement.scrollWidth") <= width
    assert tab.value("document.scripts.length") == 0
    assert tab.value("document.querySelectorAll('svg[role=img]').length") >= 5
    paper = tab.value("getComputedStyle(document.documentElement).backgroundColor")
    assert paper == ("rgb(17, 24, 27)" if theme == "dark" else "rgb(251, 250, 246)")
    assert tab.requests == []
    assert tab.complaints == []


def test_a_clip_plays(browser: Chromium, hostile: Path) -> None:
    tab = Tab(browser, hostile, 1280, "light")
    length = tab.value(
        "new Promise(done => { const a = document.querySelector('audio');"
        " if (a.readyState > 0) done(a.duration); else { a.onloadedmetadata = () => done(a.duration);"
        " a.onerror = () => done(-1); } })"
    )
    assert length == pytest.approx(1.0, abs=0.01)


def test_the_page_prints(browser: Chromium, hostile: Path) -> None:
    pdf = Tab(browser, hostile, 1280, "light").pdf()
    assert pdf.startswith(b"%PDF")
    assert 3 <= pdf.count(b"/Type /Page\n") <= 9


def test_what_a_page_asks_for_is_noticed(browser: Chromium, tmp_path: Path) -> None:
    asking = tmp_path / "asking.html"
    asking.write_text('<img src="file:///no/such/picture.png"><script>console.log("told")</script>')
    tab = Tab(browser, asking, 1280, "light")
    assert tab.requests == ["file:///no/such/picture.png"]
    assert any("told" in complaint for complaint in tab.complaints)
