"""The page: what anybody typed is text on it, it asks for nothing, and its figures are those of the comparison."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from tests.pages import BANDS_HZ, FIRST, HOSTILE, Elements, example_rig, kept, material, page
from tuner.logbook.plainly import sentence
from tuner.logbook.store import Logbook, Opening
from tuner.report.page import headline
from tuner.terms import Moment

FORMS: tuple[tuple[str | None, str | None], ...] = (("1", "2"), ("2", None), ("1", "3"), (None, None))


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> dict[object, str]:
    folder = tmp_path_factory.mktemp("hostile")
    path = kept(folder / "logbook.sqlite", HOSTILE, rig=example_rig(folder))
    (folder.parent / "secret.flac").write_bytes(b"fLaC secret")
    pages: dict[object, str] = {form: page(material(path, *form)) for form in FORMS}
    pages["alone"] = page(material(path, "2", alone=True))
    return pages


def test_what_anybody_typed_is_shown_as_text(hostile: dict[object, str]) -> None:
    for text in hostile.values():
        found = Elements(text)
        assert not found.open
        assert not {tag for tag, _ in found.elements} & {"script", "iframe", "object", "embed", "form", "base"}
        assert not [name for _, attributes in found.elements for name in attributes if name.startswith("on")]
        assert "<script src=" in found.text
        assert "\x1b" not in text
        assert "\\x1b[2J" in found.text


def test_nothing_points_outside_the_page(hostile: dict[object, str]) -> None:
    for text in hostile.values():
        found = Elements(text)
        for _, attributes in found.elements:
            for name in ("src", "href", "xlink:href", "srcset", "action", "poster"):
                address = attributes.get(name)
                assert address is None or address.startswith(("data:", "#"))
        style = re.search(r"<style>(.*?)</style>", text, flags=re.DOTALL)
        assert style is not None
        assert not re.search(r"@import|url\(|https?:", style[1])
        for rule in re.findall(r'style="([^"]*)"', text):
            assert not re.search(r"url\((?!#)", rule)


def test_clips_come_from_the_folder_of_clips_alone(hostile: dict[object, str]) -> None:
    players = Elements(hostile["alone"]).named("audio")
    assert len(players) == 1
    assert "c2VjcmV0" not in hostile["alone"]  # "secret" in base64
    assert (players[0]["src"] or "").startswith("data:audio/flac;base64,ZkxhQ")  # "fLaC"


def test_every_picture_has_a_text_alternative_and_ids_of_its_own(hostile: dict[object, str]) -> None:
    for text in hostile.values():
        found = Elements(text)
        ids = [attributes["id"] for _, attributes in found.elements if "id" in attributes]
        assert len(ids) == len(set(ids))
        drawings = [a for a in found.named("svg") if a.get("aria-hidden") != "true"]
        assert len(drawings) >= 3
        for attributes in drawings:
            assert attributes["role"] == "img"
            for name in (attributes["aria-labelledby"] or "").split():
                words = re.search(rf'id="{name}">([^<]+)<', text)
                assert words is not None
                assert len(words[1]) > 3
        for drawing in re.findall(r"<svg.*?</svg>", text, flags=re.DOTALL):
            ET.fromstring(drawing)
            for target in re.findall(r"url\(#([^)]*)\)", drawing) + re.findall(r'href="#([^"]*)"', drawing):
                assert f'id="{target}"' in drawing


def test_the_page_tells_the_comparison(tmp_path: Path) -> None:
    found = material(kept(tmp_path / "logbook.sqlite"), "2")
    text = Elements(page(found)).text
    c = found.comparison
    assert c is not None
    assert c.level is not None
    assert headline(found) == sentence(c)
    assert sentence(c)[1:] in text
    assert f"{c.level.before_db:.1f} dB(A)" in text
    assert f"{c.level.after_db:.1f} dB(A)" in text
    assert f"{c.level.change_db:.1f}".replace("-", "−") in text
    assert f"{c.level.low_db:.1f}".replace("-", "−") in text
    for band in c.bands:
        assert f"{band.before_db:.1f}" in text
        assert f"{band.after_db:.1f}" in text
    (gurgle,) = c.sounds
    assert f"ratio {gurgle.ratio:.2g}" in text if gurgle.ratio is not None else gurgle.fate in text


def test_levels_that_cannot_be_compared_are_shown_each_by_itself(tmp_path: Path) -> None:
    found = material(kept(tmp_path / "logbook.sqlite"), "1", "3")
    text = Elements(page(found)).text
    assert "Why levels are not compared" in text
    assert "not comparable" in text
    assert "Levels cannot be compared (another microphone)" in text


def test_the_same_logbook_gives_the_same_page(tmp_path: Path) -> None:
    path = kept(tmp_path / "logbook.sqlite")
    assert page(material(path, "2")) == page(material(path, "2"))


@pytest.mark.parametrize(("start", "said"), [
    ({"catches_s": 20.0, "switched_on_s": 60.0}, True), ({"catches_s": 20.0}, False),
])
def test_a_restart_s_page_marks_when_the_pumps_were_switched_on(
    tmp_path: Path, start: dict[str, float], said: bool
) -> None:
    opening = Opening("restart", "a microphone", 48_000)
    with Logbook(tmp_path / "log", clock=lambda: FIRST) as logbook, logbook.begin(opening) as entry:
        for s in range(120):
            entry.moment(Moment(float(s), s + 1.0, -60.0, BANDS_HZ, (-70.0,) * len(BANDS_HZ), {"gurgle": 0.9}, 0.0))
        logbook.keep_proof("restart", "a microphone", 48_000, {"starts": [start]}, session=entry.id)
        entry.close("restarts by itself")
    text = page(material(tmp_path / "log", "1", alone=True))
    assert ("Pumps switched on: 01:00." in text) is said
    assert ("the pumps are switched on, by the number of the start" in text) is said
