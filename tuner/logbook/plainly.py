"""A comparison in one plain sentence: the level, then what became of the sounds."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from tuner.logbook.comparison import Comparison, LevelChange
from tuner.logbook.soundchange import Fate, SoundChange

_SHOWN_DB = 0.05  # what is shown with one decimal as 0.0
_MOST_SOUNDS = 4
_ORDER: tuple[Fate, ...] = (
    "gone", "new", "less", "more", "remains", "not heard again", "heard for the first time",
)


def sentence(comparison: Comparison) -> str:
    """Return the comparison in one sentence without a full stop.

    "quieter by 6.1 dB(A), 95 % sure of at least 4.8; the slurp is gone; a faint trickle remains"
    """
    parts = [level_words(comparison.level, comparison.confidence)]
    if comparison.level is None:
        differs = " and ".join(dict.fromkeys(_MATTERS[o.matter] for o in comparison.obstacles))
        parts = [f"levels cannot be compared ({differs})"]
    ordered = sorted(comparison.sounds, key=lambda c: (_ORDER.index(c.fate), -max(c.before.share, c.after.share)))
    told = ordered if len(ordered) <= _MOST_SOUNDS else ordered[: _MOST_SOUNDS - 1]
    words = [sound_words(list(alike)) for _, alike in groupby(told, key=_said_together)]
    if len(told) < len(ordered):
        words.append(f"{len(ordered) - len(told)} more kinds of sound are listed below")
    if not words:
        if min(comparison.before.clean_s, comparison.after.clean_s) > 0:
            words = ["no sound of the plumbing was recognised, neither before nor after"]
        else:
            words = ["nothing was heard undisturbed, so nothing can be said of the sounds"]
    return "; ".join([*parts, *words])


_MATTERS = {
    "microphone": "another microphone", "gain": "another gain", "calibration": "calibrated against not calibrated",
    "place": "another place", "time": "too little undisturbed time",
}


def level_words(level: LevelChange | None, confidence: float) -> str:
    """Return the change of level in words; "" without one.

    >>> level_words(LevelChange(None, 46.1, 40.0, -6.1, -7.3, -4.8), 0.95)
    'quieter by 6.1 dB(A), 95 % sure of at least 4.8'
    >>> level_words(LevelChange(None, 40.0, 39.6, -0.4, -1.2, 0.5), 0.95)
    'no change of level can be shown: 0.4 dB(A) quieter, between 1.2 quieter and 0.5 louder'
    """
    if level is None:
        return ""
    sure = f"{100 * confidence:.0f} % sure of at least"
    if level.high_db <= -_SHOWN_DB:
        return f"quieter by {-level.change_db:.1f} dB(A), {sure} {-level.high_db:.1f}"
    if level.low_db >= _SHOWN_DB:
        return f"louder by {level.change_db:.1f} dB(A), {sure} {level.low_db:.1f}"
    return f"no change of level can be shown: {_way(level.change_db, 'dB(A) ')}, between {_way(level.low_db)} and" \
        f" {_way(level.high_db)}"


def _way(change_db: float, unit: str = "") -> str:
    return f"{abs(change_db):.1f} {unit}{'quieter' if change_db < 0 else 'louder'}"


def _said_together(change: SoundChange) -> str:
    """Return a key that kinds share which one clause can tell of; those with figures of their own stand alone."""
    return change.kind if change.fate in ("less", "more") else change.fate


def sound_words(changes: Sequence[SoundChange]) -> str:
    """Return what became of kinds of sound that fared alike, in words."""
    fate, several = changes[0].fate, len(changes) > 1
    known = _listed([f"the {c.kind}" for c in changes])
    other = _listed([f"a {'faint ' if c.faint else ''}{c.kind}" for c in changes])
    if fate == "gone":
        return f"{known} {'are' if several else 'is'} gone"
    if fate == "not heard again":
        return f"{known} {'were' if several else 'was'} not heard again, in a time too short to be sure"
    if fate == "new":
        return f"{other} {'are' if several else 'is'} new"
    if fate == "heard for the first time":
        return f"{other} {'were' if several else 'was'} heard after, which may be chance"
    if fate in ("less", "more"):
        return f"{known} is heard {fate}, {_amounts(changes[0])}"
    return f"{other} {'remain' if several else 'remains'}"


def _listed(names: Sequence[str]) -> str:
    """Return names as one says them.

    >>> _listed(["the slurp"]), _listed(["a hum", "a slurp", "a flush"])
    ('the slurp', 'a hum, a slurp and a flush')
    """
    return " and ".join((", ".join(names[:-1]), names[-1])) if len(names) > 1 else names[0]


def _amounts(change: SoundChange) -> str:
    then, now = change.before, change.after
    if max(then.share, now.share) >= 0.3:
        return f"{_percent(now.share)} of the time instead of {_percent(then.share)}"
    return f"{now.per_hour:.0f} times an hour instead of {then.per_hour:.0f}"


def _percent(share: float) -> str:
    return f"{min(99, max(1, round(100 * share))) if 0 < share < 1 else round(100 * share)} %"
