"""How the sounds changed: the rate of each kind on both sides, their ratio, and what became of the kind.

Events of one kind that follow each other within 10 s are one bout: a chugging siphon is one cause, and Poisson's law
wants bouts that come independently. A sound that goes on without a pause has few bouts; it is judged by the half
minutes in which it is heard.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from tuner.bounds.intervals import poisson_interval_garwood, rate_ratio_conditional
from tuner.bounds.means import hypergeometric_upper
from tuner.logbook.side import Side, Stretch
from tuner.terms import SOUND_KINDS, SoundKind

Fate = Literal["gone", "not heard again", "new", "heard for the first time", "less", "more", "remains"]

BOUT_GAP_S = 10.0  # as in a confirmation
SPELL_S = 30  # longer than what a sound remembers of itself, short enough to have several in a listening
_LEAST_SPELL_S = 10  # clean seconds from which a half minute counts
FAINT_DB = 3.0  # a sound whose seconds lie no further over the whole level is faint
FAINT_SHARE = 0.05


@dataclass(frozen=True, slots=True)
class SoundRate:
    """How one kind stood on one side.

    ``bouts`` within ``clean_s`` seconds, as a rate per hour with exact two-sided limits; ``share`` of the clean seconds
    in which it sounds (0-1); ``spells_heard`` of ``spells`` half minutes with it; ``level_db`` its seconds' level.
    """

    bouts: int
    clean_s: float
    per_hour: float
    low_per_hour: float
    high_per_hour: float
    share: float
    spells_heard: int
    spells: int
    level_db: float | None


@dataclass(frozen=True, slots=True)
class SoundChange:
    """What became of a kind: rates before and after, the ratio of the two with exact limits, and the fate in a word.

    ``ratio`` is None without a bout before; ``faint`` tells that what is heard after is weak or seldom. A fate of
    "not heard again" or "heard for the first time" says that the listening was too short to be sure of "gone" or "new".
    """

    kind: SoundKind
    before: SoundRate
    after: SoundRate
    ratio: float | None
    ratio_low: float
    ratio_high: float
    fate: Fate
    faint: bool


def sound_changes(before: Side, after: Side, confidence: float) -> tuple[SoundChange, ...]:
    """Return what became of every kind that sounded on either side; empty when a side has no clean second."""
    if not before.clean_s or not after.clean_s:
        return ()
    changes = []
    for column, kind in enumerate(SOUND_KINDS):
        then, now = (_rate(side, column, kind, confidence) for side in (before, after))
        if then.bouts or now.bouts:
            changes.append(_change(kind, then, now, confidence, _stands_out(after, kind)))
    return tuple(changes)


def sound_rates(side: Side, confidence: float) -> tuple[tuple[SoundKind, SoundRate], ...]:
    """Return the rate of every kind that sounded on a side; empty without a clean second."""
    if not side.clean_s:
        return ()
    rates = ((kind, _rate(side, column, kind, confidence)) for column, kind in enumerate(SOUND_KINDS))
    return tuple((kind, rate) for kind, rate in rates if rate.bouts)


def _rate(side: Side, column: int, kind: SoundKind, confidence: float) -> SoundRate:
    bouts = sum(_bouts(stretch, column) for stretch in side.stretches)
    hours = side.clean_s / 3600.0
    limits = poisson_interval_garwood(bouts, hours, confidence)
    sounding = sum(int(stretch.sounding[:, column].sum()) for stretch in side.stretches)
    spells = np.array([_spells(stretch, column) for stretch in side.stretches]).sum(axis=0)
    levels = [
        (stretch.sound_db[kind], int(stretch.sounding[:, column].sum()))
        for stretch in side.stretches if kind in stretch.sound_db
    ]
    power = sum(10.0 ** (level / 10.0) * n for level, n in levels)
    return SoundRate(
        bouts, float(side.clean_s), bouts / hours, limits.low, limits.high, sounding / side.clean_s, int(spells[0]),
        int(spells[1]), float(10.0 * np.log10(power / sounding)) if levels else None,
    )


def _bouts(stretch: Stretch, column: int) -> int:
    at = stretch.second[stretch.sounding[:, column]]
    return 0 if at.size == 0 else 1 + int(np.count_nonzero(np.diff(at) - 1 > BOUT_GAP_S))


def _spells(stretch: Stretch, column: int) -> tuple[int, int]:
    """Return in how many half minutes with enough clean time the kind sounds, and how many there are."""
    if not stretch.second.size:
        return 0, 0
    number = stretch.second // SPELL_S - stretch.second[0] // SPELL_S
    clean = np.bincount(number)
    heard = np.bincount(number, stretch.sounding[:, column])
    counts = clean >= _LEAST_SPELL_S
    return int(np.count_nonzero(heard[counts])), int(np.count_nonzero(counts))


def _stands_out(side: Side, kind: SoundKind) -> float | None:
    """Return how far the seconds of a kind lie over the whole level of their stretches (dB), None where unheard."""
    over = [
        s.sound_db[kind] - 10.0 * np.log10(s.power[:, 0].mean() + 1e-30) for s in side.stretches if kind in s.sound_db
    ]
    return float(np.mean(over)) if over else None


def _change(kind: SoundKind, then: SoundRate, now: SoundRate, confidence: float, over_db: float | None) -> SoundChange:
    ratio = rate_ratio_conditional(now.bouts, now.clean_s, then.bouts, then.clean_s, confidence)
    tail = (1.0 - confidence) / 2.0
    old, new = (then.spells_heard, then.spells), (now.spells_heard, now.spells)
    fewer = ratio.high < 1.0 or hypergeometric_upper(*new, *old) < tail
    more = ratio.low > 1.0 or hypergeometric_upper(*old, *new) < tail
    if fewer == more:
        # A long sound is one bout where a broken one is many: the half minutes and the bouts may disagree.
        fewer, more = (False, False) if not fewer else (now.share < then.share, now.share > then.share)
    fate: Fate = "less" if fewer else "more" if more else "remains"
    if not now.bouts:
        fate = "gone" if fewer else "not heard again"
    elif not then.bouts:
        fate = "new" if more else "heard for the first time"
    faint = bool(now.bouts) and (now.share < FAINT_SHARE or over_db is None or (over_db < FAINT_DB and now.share < 0.5))
    return SoundChange(
        kind, then, now, ratio.value if then.bouts else None, ratio.low, ratio.high, fate, faint
    )
