"""What a verdict says in words beside its outcome: what it rests on, what it cannot show, what more would buy."""

from __future__ import annotations

import numpy as np

from tuner.bounds.intervals import exposure_for_rate
from tuner.silence.evidence import Evidence
from tuner.silence.hearing import hearing_threshold_db
from tuner.silence.judgement import Band, Level, Limits, Setting
from tuner.sound.bands import nominal_name
from tuner.sound.tones import Tone

_HUM_NOTED = 0.1
_BANDWIDTH_NOTED_HZ = 12_000.0  # hiss and trickle live up to there
_RATES_PER_HOUR = (12.0, 3.0, 1.0, 0.25)
_NEXT_RATES = 2


def rests_on(
    evidence: Evidence, setting: Setting, limits: Limits, level: Level | None, bands: tuple[Band, ...],
    tones: tuple[Tone, ...], loud_tones: int, per_hour: float | None,
) -> tuple[str, ...]:
    """Return what was shown, each with its confidence; ``loud_tones`` is how many tones were found to be audible."""
    sure = sure_text(limits.confidence)
    words = [f"{evidence.clean_s / 60:.1f} min unmasked of {evidence.heard_s / 60:.1f} min heard"]
    if level is not None:
        words.append(f"at most {max(level.high_db, 0.0):.1f} dB(A) over the room, at {sure} (block bootstrap)")
        if bands:
            worst = max(bands, key=lambda b: b.high_db)
            words.append(
                f"no third-octave from {nominal_name(bands[0].hz)} to {nominal_name(bands[-1].hz)} Hz, tones apart, is"
                f" more than {max(worst.high_db, 0.0):.1f} dB over the room, at {sure}"
                f" (the worst: {nominal_name(worst.hz)} Hz)"
            )
        if not loud_tones:
            words.append("no prominent tone over the room (tone-to-noise and prominence ratio, ECMA-418-1)")
            words += _softest(tones, setting)
    if per_hour is not None:
        words.append(
            f"fewer than {_round_up(per_hour)} plumbing sounds an hour at {sure} (exact Poisson bound by Garwood,"
            f" divided by the ears' recall of {sure_text(limits.recall)})"
        )
    if setting.check is not None and setting.check.honest:
        words.append("the microphone's chain was tried with loud and quiet sound and left both alone")
    if setting.offset_db is not None:
        words.append("levels are calibrated")
    return tuple(words)


def _softest(tones: tuple[Tone, ...], setting: Setting) -> list[str]:
    """Return how the strongest low tone stands to the threshold of hearing; only sound pressure levels can tell."""
    low = [t for t in tones if t.frequency_hz < 500.0]
    if setting.offset_db is None or not low:
        return []
    tone = max(low, key=lambda t: t.level_db - hearing_threshold_db(t.frequency_hz))
    over = tone.level_db + setting.offset_db - hearing_threshold_db(tone.frequency_hz)
    side = "over" if over > 0.0 else "under"
    return [
        f"of its low tones {tone.frequency_hz:.0f} Hz comes nearest to being heard: {abs(over):.0f} dB {side} the"
        " threshold in quiet (ISO 389-7), and not prominent in this room"
    ]


def cannot_show(evidence: Evidence, setting: Setting) -> tuple[str, ...]:
    """Return what the sceptic should know that was not shown."""
    words = ["sounds during masked seconds, at other times, at another place or with other settings of valve and pump"]
    if setting.offset_db is None:
        words.append("how loud it is in dB(A) re 20 µPa: not calibrated, all levels are relative to the room")
    if setting.self_noise_db is not None and setting.floor is not None:
        if setting.floor.levels.laeq_db - setting.self_noise_db < 3.0:
            words.append(
                f"anything below what this microphone can hear ({setting.floor.levels.laeq_db:.0f} dB(A)): the room is"
                " no louder than the quietest that it ever gave, which may be its own noise"
            )
    else:
        words.append("anything below the microphone's own noise, which was not measured")
    if setting.check is not None and setting.check.bandwidth_hz < _BANDWIDTH_NOTED_HZ:
        top_khz = setting.check.bandwidth_hz / 1000.0
        words.append(f"anything above {top_khz:.1f} kHz: this microphone gives nothing there")
    if evidence.presence("hum") >= _HUM_NOTED:
        words.append("that no hum is there: one was recognised, which stands out too little to be called prominent")
    words.append("sound below 100 Hz; nor that nothing can flood: silence is no proof of overflow safety")
    if evidence.lost_s:
        words.append(f"{evidence.lost_s:.1f} s that were lost on the way from the microphone")
    return tuple(words)


def further(evidence: Evidence, limits: Limits, level: Level | None, count: int) -> tuple[str, ...]:
    """Return how long one would have to listen to claim more."""
    words: list[str] = []
    for rate in _RATES_PER_HOUR:
        hours = exposure_for_rate(rate, limits.confidence, limits.recall, count)
        if hours * 3600.0 > evidence.clean_s and len(words) < _NEXT_RATES:
            rest = hours - evidence.clean_s / 3600.0
            words.append(
                f"to claim fewer than {rate:g} an hour, listen {_hours(hours)} unmasked in all ({_hours(rest)} more)"
                " without another sound"
            )
    if level is not None and level.high_db - level.excess_db > 0.5:
        width_db = level.high_db - level.excess_db
        words.append(f"four times the time, in the room too, halves the {width_db:.1f} dB of uncertainty of the level")
    return tuple(words)


def sure_text(confidence: float) -> str:
    """Return a confidence as it is written.

    >>> sure_text(0.95)
    '95 %'
    """
    return f"{100.0 * confidence:.0f} %"


def clock(seconds: float) -> str:
    """Return a time from the start.

    >>> clock(95.0), clock(7265.0)
    ('01:35', '2:01:05')
    """
    whole = int(seconds)
    if whole >= 3600:
        return f"{whole // 3600}:{whole % 3600 // 60:02d}:{whole % 60:02d}"
    return f"{whole // 60:02d}:{whole % 60:02d}"


def times(count: int, noun: str) -> str:
    """Return a number of things.

    >>> times(1, "bout"), times(2, "bout")
    ('1 bout', '2 bouts')
    """
    return f"{count} {noun}" + ("" if count == 1 else "s")


def _round_up(rate: float) -> str:
    return f"{np.ceil(rate):.0f}" if rate >= 10.0 else f"{np.ceil(rate * 10.0) / 10.0:.1f}"


def _hours(hours: float) -> str:
    return f"{hours:.1f} h" if hours >= 1.0 else f"{np.ceil(hours * 60.0):.0f} min"
