"""A confirmation as one page of plain text, with its limits on the same page."""

from __future__ import annotations

import textwrap
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from tuner.silence.judgement import Verdict
from tuner.sound.bands import nominal_name
from tuner.terms import Levels

COLUMNS = 78
LINES = 62  # what one page of paper holds


@dataclass(frozen=True, slots=True)
class About:
    """What stands at the head of a certificate: when, of what, by which microphone, against which room.

    ``made`` is in the time zone in which the page tells it; ``levels`` are those of everything heard, masked
    seconds included (dB; None with less than a second of it).
    """

    made: datetime
    rig_name: str
    source: str
    sample_rate_hz: int
    room: str
    calibration: str
    levels: Levels | None = None
    note: str = ""


def certificate_text(verdict: Verdict, about: About) -> str:
    """Return the page; it has at most ``LINES`` lines, and says when bands or reasons had to be left out."""
    lines = ["HUSHWEIR  CONFIRMATION OF SILENCE".center(COLUMNS).rstrip(), "=" * COLUMNS]
    for label, value in (
        ("made", f"{about.made:%d %B %Y, %H:%M %Z}"), ("system", about.rig_name or "not described"),
        ("heard by", about.source), ("room", about.room), ("heard", _levels(about.levels, verdict)),
        ("levels", about.calibration), ("note", about.note),
    ):  # fmt: skip
        if value:
            lines += _folded(label, value)
    lines += ["-" * COLUMNS, *_folded("verdict", verdict.outcome.upper()), ""]
    for label, words in (
        ("audible", verdict.heard), ("because" if verdict.why else "", verdict.why), ("rests on", verdict.rests_on),
        ("cannot show", verdict.cannot_show), ("to claim more", verdict.further),
    ):  # fmt: skip
        for number, word in enumerate(words):
            lines += _folded(label if number == 0 else "", "- " + word)
        if words:
            lines.append("")
    lines += _bands(verdict, LINES - len(lines) - 3)
    lines += ["-" * COLUMNS, "Silence is a statement about sound, not about flooding: prove that by itself."]
    if len(lines) > LINES:
        lines = [*lines[: LINES - 2], "(shortened to one page; --json and the logbook hold everything)", lines[-1]]
    return "\n".join(lines) + "\n"


def _levels(levels: Levels | None, verdict: Verdict) -> str:
    if levels is None:
        return ""
    words = (
        f"LAeq {levels.laeq_db:.1f}, LA10 {levels.la10_db:.1f}, LA50 {levels.la50_db:.1f}, LA90 {levels.la90_db:.1f},"
        f" LAFmax {levels.lafmax_db:.1f} dB"
    )
    return f"{words}; {verdict.rating}" if verdict.rating else words


def _folded(label: str, text: str) -> list[str]:
    width = 15
    folded = textwrap.wrap(text, COLUMNS - width) or [""]
    return [f"{label if n == 0 else '':<{width}}{part}" for n, part in enumerate(folded)]


def _bands(verdict: Verdict, room: int) -> list[str]:
    """Return the third-octaves over the room in three columns, where there is room for them."""
    cells = [
        f"{nominal_name(b.hz):>5}{b.room_db:7.1f}{b.excess_db:+6.1f} <{b.high_db:+5.1f}{'t' if b.tonal else ' '}"
        for b in verdict.bands
    ]
    rows = -(-len(cells) // 3)
    if not cells or rows + 1 > room:
        return []
    head = "third-octaves: Hz, the room (dB), over the room (dB), < bound; t: less a tone"
    return [head, *("".join(cells[row::rows]).rstrip() for row in range(rows))]


def as_json(verdict: Verdict, about: About) -> dict[str, Any]:
    """Return a confirmation as the object that ``--json`` prints; every field's unit is in its name."""
    body = asdict(verdict)
    body["per_hour_at_most"] = body.pop("per_hour")
    return {"schema": 1, **asdict(about), "made": about.made.isoformat(timespec="seconds"), **body}
