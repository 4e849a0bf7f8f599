"""Which pictures a page has besides its third-octaves: spectrograms, timelines, and the box of the rig."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tuner.report import plots
from tuner.report.material import Drawn, Material
from tuner.report.picture import Picture, picture, unit_of
from tuner.report.rigdrawing import box_drawing
from tuner.report.words import move_words
from tuner.rig import Rig
from tuner.saying import clock_text, duration_text, percent_text
from tuner.sound.bands import nominal_name
from tuner.terms import SOUND_KINDS
from tuner.water.standing import Standing

Floats = NDArray[np.float64]


def spectrograms(material: Material) -> tuple[Picture, ...]:
    """Return the spectrogram of each side, all on one scale of pitches and, where both have one, of levels."""
    sides = [d for d in (material.before, material.after) if d is not None]
    cuts = [_inside(drawn) for drawn in sides]
    if not any(second.size and levels.size for second, levels in cuts):
        return ()
    hz = [d.seconds.bands_hz for d in sides if d.seconds.bands_hz.size]
    pitch = min(float(x[0]) for x in hz), max(float(x[-1]) for x in hz)
    one = len({drawn.session.calibrated for drawn in sides}) == 1
    scales = [plots.spectrogram_scale([levels for _, levels in cuts] if one else [own]) for _, own in cuts]
    pictures = []
    for drawn, side, (second, levels), scale in zip(sides, _names(material), cuts, scales, strict=True):
        unit = unit_of(drawn.session.calibrated)
        svg = plots.spectrogram(second, drawn.seconds.bands_hz, levels, scale, pitch, unit)
        alternative = (
            f"Spectrogram over {duration_text(second.size)}: pitch from {nominal_name(pitch[0])} to"
            f" {nominal_name(pitch[1])} Hz upwards, time to the right, the brighter the louder, from {scale[0]:.0f} to"
            f" {scale[1]:.0f} {unit}. {_loudest(drawn.seconds.bands_hz, levels)}"
        )
        caption = f"Session {drawn.session.id}, {drawn.session.started.astimezone():%d %B %Y}, time from its start."
        if second.size and int(second[-1] - second[0]) >= second.size:
            caption += " Blank: not listened to."
        if not one:
            caption += " The two have no scale in common."
        pictures.append(picture(f"spectrogram-{side or 'alone'}", svg, "Spectrogram", caption, alternative, side))
    return tuple(pictures)


def _names(material: Material) -> tuple[str, ...]:
    return ("",) if material.before is None else ("before", "after")


def _inside(drawn: Drawn) -> tuple[NDArray[np.int64], Floats]:
    part, seconds = drawn.stretch.part, drawn.seconds
    inside = (seconds.second >= part.from_s) & (seconds.second < part.to_s)
    return seconds.second[inside], seconds.bands_db[inside]


def _loudest(bands_hz: Floats, levels_db: Floats) -> str:
    if not levels_db.size:
        return "Nothing was heard."
    mean = np.nanmean(10.0 ** (levels_db / 10.0), axis=0)
    return f"On the whole it is loudest at {nominal_name(float(bands_hz[int(mean.argmax())]))} Hz."


def timelines(material: Material) -> tuple[Picture, ...]:
    """Return the timeline of each session that is drawn; a session that holds both sides has one."""
    before, after = material.before, material.after
    if before is None:
        return (_timeline("", after, ()),) if after.seconds.second.size else ()
    if before.session.id == after.session.id:
        parts = tuple(
            (name, d.stretch.part.from_s, d.stretch.part.to_s) for name, d in (("before", before), ("after", after))
        )
        return (_timeline("", after, parts),)
    return _timeline("before", before, ()), _timeline("after", after, ())


def _timeline(side: str, drawn: Drawn, parts: tuple[tuple[str, float, float], ...]) -> Picture:
    tracks, shares = _tracks(drawn)
    moves = [(m.made - drawn.session.started).total_seconds() for m in drawn.moves]
    gaps = [(g.start_s, g.start_s + g.length_s) for g in drawn.gaps]
    length_s = float(drawn.session.seconds)
    heard = _runs(drawn.seconds.second)
    starts = _switched_on_s(drawn)
    svg = plots.timeline((0.0, max(1.0, length_s)), tracks, heard, moves or starts, gaps, parts)
    caption = f"Session {drawn.session.id}, {duration_text(length_s)}."
    caption += " Full blocks: the sound was heard; faint ones: listened to."
    if any(t.outside for t in tracks):
        caption += " Hatched: sound from outside the plumbing, left out of every figure."
    if gaps:
        caption += " Crossed: not heard."
    if moves:
        caption += " Broken lines: moves, by their numbers."
    elif starts:
        caption += " Broken lines: the pumps are switched on, by the number of the start."
    done = "; ".join(
        f"{i}: {clock_text(s)} {move_words(m)}" for i, (s, m) in enumerate(zip(moves, drawn.moves, strict=True), 1)
    )
    words = f"Timeline of {duration_text(length_s)}: {shares}." + (f" Moves: {done}." if done else "")
    if starts and not moves:
        words += f" Pumps switched on: {', '.join(clock_text(at_s) for at_s in starts)}."
    return picture(f"timeline-{side or 'alone'}", svg, "Timeline", caption, words, side)


def _switched_on_s(drawn: Drawn) -> list[float]:
    """Return when the pumps were switched on in a rehearsed restart; nothing for another session, or an older one."""
    if drawn.proof is None or drawn.proof.kind != "restart":
        return []
    return [start["switched_on_s"] for start in drawn.proof.body.get("starts", []) if "switched_on_s" in start]


def _tracks(drawn: Drawn) -> tuple[list[plots.Track], str]:
    """Return a row for each kind that sounded and one for sound from outside, and their shares in words."""
    whole, seconds = drawn.whole, drawn.seconds
    tracks = [
        plots.Track(kind, _runs(whole.second[whole.sounding[:, column]]))
        for column, kind in enumerate(SOUND_KINDS) if whole.sounding[:, column].any()
    ]
    total = max(1, seconds.second.size)
    shares = [f"{t.name} {percent_text(sum(b - a for a, b in t.spans) / total)} of the time" for t in tracks]
    masked = seconds.second[~seconds.clean]
    if masked.size:
        tracks.append(plots.Track("outside", _runs(masked), outside=True))
    said = "; ".join(shares) or "no sound of the plumbing"
    if masked.size:
        said += f"; sound from outside {percent_text(masked.size / total)}"
    return tracks or [plots.Track("no sound", ())], said


def _runs(seconds: NDArray[np.int64]) -> tuple[tuple[float, float], ...]:
    """Return runs of seconds that follow each other, as (from, to)."""
    if not seconds.size:
        return ()
    breaks = np.flatnonzero(np.diff(seconds) > 1)
    first, last = np.concatenate([[0], breaks + 1]), np.concatenate([breaks, [seconds.size - 1]])
    return tuple((float(seconds[a]), float(seconds[b] + 1)) for a, b in zip(first, last, strict=True))


def rig_picture(rig: Rig, stand: Standing) -> Picture:
    """Return the box of a rig, to scale."""
    svg, words, assumed = box_drawing(rig, stand)
    caption = "To scale; heights over the floor of the box. The water's level is computed, not measured."
    if assumed:
        caption += " ? marks a height that was assumed."
    return picture("rig", svg, "The overflow box", caption, words)
