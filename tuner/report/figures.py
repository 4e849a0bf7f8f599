"""The table of figures: every number of the page in words, before, after, and what changed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tuner.logbook.comparison import Comparison, SideFacts
from tuner.logbook.rows import KeptFloor
from tuner.logbook.side import Side
from tuner.logbook.soundchange import SoundRate, sound_rates
from tuner.plain import plain
from tuner.report.material import Drawn, Material
from tuner.report.words import laeq_of
from tuner.saying import clock_text, count_text, duration_text, level_text, percent_text
from tuner.sound.bands import nominal_name

_SHOWN_CAUSE = 0.05
_PERCENTILES = (("exceeded for 10 % of the time", 0.9), ("for half of it", 0.5), ("for 90 % of it", 0.1))


@dataclass(frozen=True, slots=True)
class Row:
    """A row of the table; ``before`` and ``change`` are "" on a page about one session."""

    name: str
    before: str
    after: str
    change: str = ""


@dataclass(frozen=True, slots=True)
class Group:
    """Rows under one heading."""

    title: str
    rows: tuple[Row, ...]


def groups(material: Material, confidence: float = 0.95) -> tuple[Group, ...]:
    """Return the table of figures; groups without a row are left out."""
    found = material.comparison
    made = [_heard(material, found), _sounds(found), _causes(found), _restarts(found)] if found is not None else [
        _heard_alone(material.after), _sounds_alone(material.side, confidence), _causes_alone(material.side),
        *_starts(material.after),
    ]
    return tuple(group for group in made if group.rows)


def _heard(material: Material, c: Comparison) -> Group:
    if material.before is None:
        raise AssertionError("a comparison has a side before")
    rows = []
    if c.level is not None:
        then, now = (level_text(x, c.calibrated) for x in (c.level.before_db, c.level.after_db))
        bounds = f"{_signed(c.level.change_db)} dB(A), {_signed(c.level.low_db)} to {_signed(c.level.high_db)}"
        rows.append(Row("level (LAeq)", then, now, f"{bounds}; each bound {100 * c.confidence:.0f} % sure"))
    else:
        rows.append(Row("level (LAeq)", _own_level(material.before), _own_level(material.after), "not comparable"))
    rooms = [_room(drawn.stretch.floor, drawn.session.calibrated) for drawn in (material.before, material.after)]
    if any(rooms):
        rows.append(Row("room, pumps off", rooms[0] or "not known", rooms[1] or "not known"))
    rows += [
        Row("heard", duration_text(c.before.heard_s), duration_text(c.after.heard_s)),
        Row("of it undisturbed", duration_text(c.before.clean_s), duration_text(c.after.clean_s)),
        Row("sessions", count_text(len(c.before.sessions), "session"), count_text(len(c.after.sessions), "session")),
        Row("silent windows", *(_silent_of(s) for s in (c.before, c.after))),
        Row("microphone", *(plain(", ".join(s.devices)) or "not known" for s in (c.before, c.after))),
        Row("place", *(plain(d.session.place) or "not noted" for d in (material.before, material.after))),
    ]
    return Group("Level", tuple(rows))


def _own_level(drawn: Drawn) -> str:
    laeq_db = laeq_of(drawn)
    return level_text(laeq_db, drawn.session.calibrated) if laeq_db is not None else "not known"


def _silent_of(side: SideFacts) -> str:
    return f"{side.silent_windows} of {side.windows}" if side.windows else "no windows"


def _heard_alone(drawn: Drawn) -> Group:
    stretch, session = drawn.stretch, drawn.session
    rows = []
    laeq_db = laeq_of(drawn)
    if laeq_db is not None and session.verb != "restart":
        rows.append(Row("level (LAeq)", "", level_text(laeq_db, session.calibrated)))
        levels = 10.0 * np.log10(stretch.power[:, 0] + 1e-30)
        for name, share in _PERCENTILES:
            rows.append(Row(name, "", level_text(float(np.quantile(levels, share)), session.calibrated)))
    if room := _room(stretch.floor, session.calibrated):
        rows.append(Row("room, pumps off", "", room))
    windows = stretch.diagnoses
    rows += [
        *([Row("heard", "", duration_text(stretch.heard_s)),
           Row("of it undisturbed", "", duration_text(stretch.clean_s))] if stretch.heard_s else ()),
        *([Row("silent windows", "", f"{sum(w.silent for w in windows)} of {len(windows)}")] if windows else ()),
        Row("microphone", "", plain(session.device) or "not known"),
        Row("place", "", plain(session.place) or "not noted"),
    ]
    return Group("Level", tuple(rows))


def _room(floor: KeptFloor | None, calibrated: bool) -> str:
    if floor is None or floor.floor.levels.calibrated != calibrated:
        return ""
    return level_text(floor.floor.levels.laeq_db, calibrated)


def rate_text(rate: SoundRate) -> str:
    """Return how one kind stood: share of the time, bouts an hour with exact limits."""
    if not rate.bouts:
        return f"none (under {rate.high_per_hour:.0f} an hour)"
    return f"{percent_text(rate.share)} of the time, {rate.per_hour:.0f} an hour" \
        f" ({rate.low_per_hour:.0f} to {rate.high_per_hour:.0f})"


def _sounds(c: Comparison) -> Group:
    rows = []
    for change in c.sounds:
        ratio = ""
        if change.ratio is not None:
            ratio = f"; ratio {change.ratio:.2g} ({change.ratio_low:.2g} to {change.ratio_high:.2g})"
        rows.append(Row(change.kind, rate_text(change.before), rate_text(change.after), f"{change.fate}{ratio}"))
    return Group("Sounds", tuple(rows))


def _sounds_alone(side: Side, confidence: float) -> Group:
    if side.stretches[-1].part.session.verb == "restart":  # a rate over stops and starts says nothing
        return Group("Sounds", ())
    return Group("Sounds", tuple(Row(kind, "", rate_text(rate)) for kind, rate in sound_rates(side, confidence)))


def _causes(c: Comparison) -> Group:
    shown = [x for x in c.causes if max(x.before, x.after) >= _SHOWN_CAUSE][:6]
    return Group("Causes, mean probability", tuple(
        Row(plain(x.name), percent_text(x.before), percent_text(x.after)) for x in shown
    ))


def _causes_alone(side: Side) -> Group:
    windows = [d for s in side.stretches for d in s.diagnoses]
    causes = windows[-1].causes if windows else ()
    return Group("Causes, last window", tuple(
        Row(plain(c.name), "", percent_text(c.probability)) for c in causes if c.probability >= _SHOWN_CAUSE
    ))


def _restarts(c: Comparison) -> Group:
    r = c.restarts
    sides = ((r.before_s, r.before_failed), (r.after_s, r.after_failed))
    if not any(times or failed for times, failed in sides):
        return Group("Restart", ())
    return Group("Restart after a power cut", (Row("siphon caught after", *(_caught(*side) for side in sides)),))


def _starts(drawn: Drawn) -> tuple[Group, ...]:
    """Return the phases of each start of a rehearsed restart; nothing for another session."""
    if drawn.proof is None or drawn.proof.kind != "restart":
        return ()
    groups = []
    for number, start in enumerate(drawn.proof.body.get("starts", []), 1):
        caught = start.get("catches_s")
        rows = [Row("siphon caught after", "", "not while it was heard" if caught is None else f"{caught:.0f} s")]
        rows += [
            Row(plain(str(p["phase"])), "", f"{clock_text(p['from_s'])} to {clock_text(p['to_s'])}")
            for p in start.get("phases", [])
        ]
        groups.append(Group(f"Start {number}", tuple(rows)))
    return tuple(groups)


def _caught(times_s: Sequence[float], failed: int) -> str:
    words = [f"{sorted(times_s)[len(times_s) // 2]:.0f} s"] if times_s else []
    if len(times_s) > 1:
        words[0] += f" ({min(times_s):.0f} to {max(times_s):.0f} s)"
    if failed:
        words.append(f"did not catch in {count_text(failed, 'start')}")
    return ", ".join(words) or "not rehearsed"


def band_rows(c: Comparison) -> tuple[tuple[str, str, str, str, str], ...]:
    """Return the third-octaves: centre, before, after, change and its bounds, all in dB."""
    return tuple(
        (f"{nominal_name(b.hz or 0.0)} Hz", f"{b.before_db:.1f}", f"{b.after_db:.1f}", _signed(b.change_db),
         f"{_signed(b.low_db)} to {_signed(b.high_db)}")
        for b in c.bands
    )


def _signed(value: float) -> str:
    """Return a change with a true minus.

    >>> _signed(-6.14), _signed(0.5)
    ('−6.1', '+0.5')
    """
    return f"{value:+.1f}".replace("-", "−")
