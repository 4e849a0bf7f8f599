"""Logbooks and pages for the tests of the report: a noisy session, a tuning with clips, a silent one elsewhere."""

from __future__ import annotations

import io
from datetime import UTC, datetime, timedelta
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import soundfile

from tuner.logbook.entry import Entry
from tuner.logbook.store import Logbook, Opening
from tuner.report.material import Material, gather
from tuner.report.page import page_html
from tuner.rig import Rig
from tuner.rigfile import load_rig, rig_text
from tuner.silence.hearing import THRESHOLD_DB
from tuner.terms import Cause, Diagnosis, Floor, Levels, Moment, Reading, Sound, Step
from tuner.water.standing import standing

FIRST = datetime(2026, 3, 1, 18, tzinfo=UTC)
BANDS_HZ = tuple(round(1000.0 * 10 ** (n / 10.0), 3) for n in range(-10, 12))
HOSTILE = (
    '"><script src="https://evil.example/x.js">alert(1)</script>\n<img src=x onerror=alert(2)> \'&\' ../../etc \x1b[2J'
)
_VOID = {"meta", "link", "img", "br", "hr", "path", "use", "image", "rect", "circle", "line"}


def kept(path: Path, words: str = "Kelpie", *, calibrated: bool = True, rig: Rig | None = None) -> Path:
    """Write three sessions: 1 noisy, 2 a tuning to silence with clips and a note, 3 silent, by another microphone."""
    now = [FIRST]
    rng = np.random.default_rng(7)
    offset_db = 110.0 if calibrated else None
    with Logbook(path, clock=lambda: now[0]) as logbook:
        floor = logbook.keep_floor(Floor(_levels(28.0 - (offset_db or 0.0), False), 30.0, 29.0), words, 48_000, words)
        days = ("listen", 50, words), ("tune", 50, words), ("listen", 0, "other")
        for day, (verb, loud, device) in enumerate(days):
            now[0] = FIRST + timedelta(days=day)
            opening = Opening(
                verb, device, 48_000, calibrated=calibrated, rig_name=words, rig_text=rig_text(rig) if rig else "",
                floor_id=floor, note=words, place=words, gain="60 %", offset_db=offset_db, tags=(f"day {day}", "all"),
            )
            with logbook.begin(opening) as entry:
                _listen(entry, rng, loud, 100, calibrated)
                if verb == "tune":
                    _tune(logbook, entry, words)
                entry.diagnosis(_window(loud == 0, calibrated), 100.0)
                entry.close("silent" if not loud else "not silent")
    return path


def _listen(entry: Entry, rng: np.random.Generator, loud: int, seconds: int, calibrated: bool) -> None:
    base_db = 30.0 if calibrated else -80.0
    for s in range(seconds):
        sounds = s < loud
        level_db = base_db + (15.0 if sounds else 0.0) + float(rng.normal(0.0, 0.8))
        bands = tuple(level_db - 12.0 + 3.0 * float(np.sin(n / 3.0)) for n in range(len(BANDS_HZ)))
        outside = 0.9 if s % 40 == 20 else 0.0
        chance = {"gurgle": 0.9 if sounds else 0.0}
        entry.moment(Moment(float(s), s + 1.0, level_db, BANDS_HZ, bands, chance, outside))
        if sounds:
            entry.sound(Sound("gurgle", float(s), s + 1.0, level_db, 0.9))


def _tune(logbook: Logbook, entry: Entry, words: str) -> None:
    step = Step("siphon valve", 0.125, "turn", 20.0, words, words)
    move = entry.advised(step, 50.0)
    entry.done(move, 0.125, 50.0)
    entry.seen(move, words)
    entry.gap(60.0, 2.0, words)
    content = flac()
    name, size = logbook.clip_folder.put(entry.id, "gurgle", 5.0, content)
    entry.clip("gurgle", 5.0, 1.0, name, size)
    entry.clip(words, 6.0, 1.0, "../../secret.flac", 10)


def _levels(laeq_db: float, calibrated: bool) -> Levels:
    bands = tuple(laeq_db - 12.0 for _ in BANDS_HZ)
    return Levels(laeq_db, laeq_db + 2, laeq_db - 1, laeq_db - 3, laeq_db + 8, BANDS_HZ, bands, calibrated)


def _window(silent: bool, calibrated: bool) -> Diagnosis:
    levels = _levels(30.0 if calibrated else -80.0, calibrated)
    cause = Cause("siphon over-closed", 0.8, ("it gurgles",))
    return Diagnosis(silent, (), () if silent else (cause,), Reading(30.0, 29.0, levels, (), (), 2.0, 0.0))


def flac(seconds: float = 1.0) -> bytes:
    """Return a short FLAC file."""
    file = io.BytesIO()
    wave = 0.1 * np.sin(2 * np.pi * 440.0 * np.arange(round(seconds * 16_000)) / 16_000)
    soundfile.write(file, wave.astype(np.float32), 16_000, format="FLAC")
    return file.getvalue()


def material(path: Path, before: str | None = None, after: str | None = None, **options: bool) -> Material:
    """Return what a page is made of, at a fixed time and with fixed draws."""
    with Logbook(path, clock=lambda: FIRST, look_only=True) as logbook:
        return gather(logbook, before, after, made=FIRST, rng=np.random.default_rng(1), **options)


def page(found: Material) -> str:
    """Return the page."""
    stand = standing(found.rig, np.random.default_rng(1)) if found.rig is not None else None
    return page_html(found, stand, THRESHOLD_DB)


def example_rig(folder: Path) -> Rig:
    """Return a rig of four figures; the rest is assumed."""
    file = folder / "rig.toml"
    file.write_text(
        'name = "Kelpie"\n[siphon]\ninner_diameter = "26.6 mm"\ndrop = "90 cm"\n'
        '[siphon.valve]\nkind = "gate"\nturns = 5\nsetting = "1 1/4 turns"\n'
        '[[pump]]\nflow = "4200 L/h"\nhead = "3 m"\n',
        encoding="utf-8",
    )
    return load_rig(file)


class Elements(HTMLParser):
    """A page taken apart: every element with its attributes, what is not closed, and the text outside of styles."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.text = ""
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag not in _VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        if tag not in _VOID:
            assert self.open, f"</{tag}> closes nothing"
            assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if "style" not in self.open:
            self.text += data

    def named(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for name, attributes in self.elements if name == tag]
