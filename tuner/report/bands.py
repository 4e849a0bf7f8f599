"""The third-octaves of a page: bars against the room and the threshold of hearing, and how they changed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tuner.logbook.comparison import Comparison
from tuner.report import plots
from tuner.report.material import Drawn, Material
from tuner.report.picture import Picture, picture, unit_of
from tuner.saying import count_text
from tuner.sound.bands import nominal_name

Floats = NDArray[np.float64]
Threshold = Mapping[float, float]


@dataclass(frozen=True, slots=True)
class Line:
    """Levels (dB) over frequencies (Hz), both of shape (n,)."""

    hz: Floats
    level_db: Floats

    def at(self, hz: Floats) -> Floats:
        """Return the levels at other frequencies, straight between its own on a scale of pitch."""
        return np.interp(np.log(hz), np.log(self.hz), self.level_db)


def band_pictures(material: Material, threshold: Threshold) -> tuple[Picture, ...]:
    """Return the third-octaves of both sides in one picture with their change, or of each side by itself."""
    found = material.comparison
    if found is not None and found.level is not None:
        return (_together(found, material.after, threshold), _change(found)) if found.bands else ()
    # A rehearsed restart is loud and quiet by turns: no mean over it says anything.
    sides = [
        (n, d) for n, d in (("before", material.before), ("after", material.after))
        if d is not None and d.session.verb != "restart"
    ]
    drawn = [(n if material.before else "", d) for n, d in sides if d.stretch.clean_s and d.stretch.bands_hz.size]
    return tuple(_alone(name, d, threshold) for name, d in drawn)


def _alone(side: str, drawn: Drawn, threshold: Threshold) -> Picture:
    hz = drawn.stretch.bands_hz
    levels = 10.0 * np.log10(drawn.stretch.power[:, 1:].mean(axis=0) + 1e-30)
    levels = np.where(levels > -250.0, levels, np.nan)
    room, hearing = room_of(drawn, hz), hearing_of(drawn, hz, threshold)
    svg = plots.bands(hz, None, levels, _pair(room), _pair(hearing), unit_of(drawn.session.calibrated))
    return picture(
        f"bands-{side or 'alone'}", svg, "Level by pitch", _caption(room, hearing),
        f"Bars for {hz.size} third-octaves. {_against(hz, levels, room, hearing)}", side,
    )


def _together(found: Comparison, after: Drawn, threshold: Threshold) -> Picture:
    hz, then, now = (np.array([getattr(b, name) for b in found.bands]) for name in ("hz", "before_db", "after_db"))
    room, hearing = room_of(after, hz), hearing_of(after, hz, threshold)
    svg = plots.bands(hz, then, now, _pair(room), _pair(hearing), unit_of(found.calibrated))
    words = f"A stepped line for before, bars for after, over {hz.size} third-octaves."
    return picture(
        "bands", svg, "Before and after", _caption(room, hearing), f"{words} {_against(hz, now, room, hearing)}"
    )


def _change(found: Comparison) -> Picture:
    hz, change, low, high = (
        np.array([getattr(b, name) for b in found.bands]) for name in ("hz", "change_db", "low_db", "high_db")
    )
    quieter, louder = int((high < 0).sum()), int((low > 0).sum())
    words = f"Of {hz.size} third-octaves {quieter} became quieter and {louder} louder, as far as the bounds tell;" \
        f" {hz.size - quieter - louder} cannot be told. The table below holds every figure."
    caption = f"After minus before; each bound by itself {100 * found.confidence:.0f} % sure."
    return picture("change", plots.change(hz, change, low, high), "The change", caption, words)


def _caption(room: Line | None, hearing: Line | None) -> str:
    words = ["Third-octaves, mean over the undisturbed seconds."]
    if room is None:
        words.append("The room with the pumps off was not known: no line shows it.")
    if hearing is None:
        words.append("Not calibrated, so that no threshold of hearing can be drawn.")
    else:
        words.append("The threshold of hearing (ISO 389-7, young ears, single tones) is a guide, not a limit.")
    return " ".join(words)


def room_of(drawn: Drawn, hz: Floats) -> Line | None:
    """Return the room's third-octaves on the session's scale, by its floor or else by its confirmation's bands."""
    floor = drawn.stretch.floor
    if floor is not None and floor.floor.levels.calibrated == drawn.session.calibrated:
        levels = floor.floor.levels
        return _within(hz, dict(zip(levels.third_octave_hz, levels.third_octave_db, strict=True)))
    if drawn.proof is None or drawn.proof.kind != "confirmation":
        return None
    bands = drawn.proof.body.get("bands")
    told = [b for b in bands if isinstance(b, dict)] if isinstance(bands, list) else []
    return _within(hz, {b["hz"]: b["room_db"] for b in told if {"hz", "room_db"} <= b.keys()})


def hearing_of(drawn: Drawn, hz: Floats, threshold: Threshold) -> Line | None:
    """Return the threshold of hearing within the bands; None where levels are relative."""
    return _within(hz, threshold) if drawn.session.calibrated else None


def _within(hz: Floats, levels_db: Threshold) -> Line | None:
    low, high = float(hz[0]) / 1.1, float(hz[-1]) * 1.1
    kept = sorted((float(x), float(y)) for x, y in levels_db.items() if low <= x <= high)
    return Line(np.array([x for x, _ in kept]), np.array([y for _, y in kept])) if len(kept) > 1 else None


def _pair(line: Line | None) -> tuple[Floats, Floats] | None:
    return None if line is None else (line.hz, line.level_db)


def _against(hz: Floats, levels_db: Floats, room: Line | None, hearing: Line | None) -> str:
    """Say where the levels are highest, and where they lie over the room and over the threshold of hearing."""
    words = [f"Loudest at {_name(hz, int(np.nanargmax(levels_db)))} with {np.nanmax(levels_db):.1f} dB."]
    for line, name in ((room, "the room"), (hearing, "the threshold of hearing")):
        if line is None:
            continue
        over = np.nan_to_num(levels_db - line.at(hz), nan=-np.inf)
        count = int((over > 0.0).sum())
        most = f", most at {_name(hz, int(over.argmax()))} by {over.max():.1f} dB" if count else ""
        words.append(f"{count_text(count, 'band')} over {name}{most}.")
    return " ".join(words)


def _name(hz: Floats, index: int) -> str:
    return f"{nominal_name(float(hz[index]))} Hz"
