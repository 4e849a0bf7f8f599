"""The verdict: silent, audible or not shown, with what it rests on and what it cannot show.

Silent is said when every one of these holds, each at the confidence asked for: the system adds so little to the room
that its bound stays under the limit, in dB(A) and in every third-octave; no sound of the plumbing was recognised; no
prominent tone stands over the room; the microphone's chain was tried and is honest; enough time was not masked.
Audible is said as soon as one thing was shown to be heard. Everything else is not shown, with the reason.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tuner.bounds.bootstrap import LEAST_CELLS, energy_mean_bounds, widened_db
from tuner.bounds.intervals import exposure_for_rate, poisson_upper_garwood
from tuner.silence.chain import ChainReport
from tuner.silence.evidence import Evidence
from tuner.silence.hearing import is_inaudible
from tuner.sound.bands import nominal_name, third_octave_edges_hz
from tuner.sound.tones import Tone, find_tones
from tuner.terms import Floor, SoundKind

Floats = NDArray[np.float64]
Outcome = Literal["silent", "audible", "not shown"]
# A hum is judged as a tone: how far it stands out is a number with a standard behind it.
_HUM_NOTED = 0.1
_LEAST_TNR_DB = -10.0  # a tone that its critical band masks may still fill its third-octave
_TONAL: frozenset[SoundKind] = frozenset({"hum"})


@dataclass(frozen=True, slots=True)
class Limits:
    """What counts as silent. Levels in dB over the room, times in seconds.

    With ``level_db`` at 3 the system is no louder than the room itself. A kind is heard from ``presence`` (mean
    probability over the clean time) or from ``bouts`` bouts on; a single bout is left open. ``recall`` is the share of
    sounds that the ears notice: the least that the signature model's card states for a sound that comes in bouts.
    """

    confidence: float = 0.95
    level_db: float = 3.0
    band_db: float = 4.0
    lowest_band_hz: float = 100.0
    presence: float = 0.06
    bouts: int = 2
    recall: float = 0.6
    clean_s: float = 60.0
    floor_s: float = 10.0


@dataclass(frozen=True, slots=True)
class Band:
    """One third-octave: its centre (Hz), what it stands over the room (dB) and the bounds of that.

    ``tonal`` tells that a tone was taken out of it; the tone is judged as a tone.
    """

    hz: float
    excess_db: float
    low_db: float
    high_db: float
    tonal: bool


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of plumbing sound that was recognised."""

    kind: SoundKind
    bouts: int
    presence: float
    total_s: float
    loudest_db: float
    first_s: float


@dataclass(frozen=True, slots=True)
class Verdict:
    """The outcome with its figures and its words.

    ``excess_db``, ``low_db`` and ``high_db`` are the A-weighted level over the room with its one-sided bounds, None
    without a room or with too little time. ``per_hour`` is the upper bound of the rate of plumbing sounds, None where
    nothing was heard unmasked. ``heard`` says what is audible, ``why`` why nothing is shown, ``rests_on`` and
    ``cannot_show`` what a sceptic should know, ``further`` what more listening would buy.
    """

    outcome: Outcome
    confidence: float
    heard_s: float
    clean_s: float
    level_db: float | None
    excess_db: float | None
    low_db: float | None
    high_db: float | None
    bands: tuple[Band, ...]
    kinds: tuple[Kind, ...]
    tones: tuple[Tone, ...]
    per_hour: float | None
    heard: tuple[str, ...]
    why: tuple[str, ...]
    rests_on: tuple[str, ...]
    cannot_show: tuple[str, ...]
    further: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Setting:
    """What a confirmation knows beside the sound.

    ``check`` is the microphone's tried chain (None: never tried), ``watch`` what this very listening showed of it,
    ``offset_db`` the calibration, ``self_noise_db`` the least level that this microphone ever gave (both None when
    not known).
    """

    floor: Floor | None
    check: ChainReport | None
    watch: ChainReport
    offset_db: float | None = None
    self_noise_db: float | None = None


def judge(evidence: Evidence, setting: Setting, limits: Limits, rng: np.random.Generator) -> Verdict:
    """Return what the evidence shows; ``rng`` draws the bootstrap's blocks."""
    kinds = _kinds(evidence)
    tones = _tones(evidence)
    level, bands = _levels(evidence, setting, limits, tones, rng)
    heard = [*_heard_kinds(kinds, limits), *_heard_levels(level, bands, limits), *_heard_tones(tones, bands, setting)]
    why = [*_chain_doubts(setting), *_lacking(evidence, setting, limits), *_open_levels(level, bands, limits)]
    why += [
        f"a single {k.kind} at {_clock(k.first_s)} may be a chance: listen again" for k in kinds
        if k.kind not in _TONAL and 0 < k.bouts < limits.bouts and k.presence < limits.presence
    ]
    outcome: Outcome = "audible" if heard else "not shown" if why else "silent"
    count = sum(k.bouts for k in kinds if k.kind not in _TONAL)
    per_hour = None
    if evidence.clean_s > 0.0:
        per_hour = poisson_upper_garwood(count, evidence.clean_s / 3600.0, limits.confidence, limits.recall)
    return Verdict(
        outcome, limits.confidence, evidence.heard_s, evidence.clean_s, level.mean_db if level else None,
        level.excess_db if level else None, level.low_db if level else None, level.high_db if level else None,
        bands, kinds, tones, per_hour, tuple(heard), tuple(why),
        _rests_on(evidence, setting, limits, level, bands, per_hour),
        _cannot_show(evidence, setting), _further(evidence, limits, level, count),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Level:
    mean_db: float
    excess_db: float
    low_db: float
    high_db: float


def _kinds(evidence: Evidence) -> tuple[Kind, ...]:
    return tuple(
        Kind(kind, b.count, evidence.presence(kind), b.total_s, b.loudest_db, b.first_s)
        for kind, b in sorted(evidence.bouts.items(), key=lambda pair: -pair[1].count)
    )


def _tones(evidence: Evidence) -> tuple[Tone, ...]:
    spectrum = evidence.spectrum()
    return () if spectrum is None else find_tones(spectrum, evidence.frequencies_hz, _LEAST_TNR_DB)


def _levels(
    evidence: Evidence, setting: Setting, limits: Limits, tones: tuple[Tone, ...], rng: np.random.Generator
) -> tuple[_Level | None, tuple[Band, ...]]:
    floor, cells = setting.floor, evidence.cells
    if floor is None or cells.shape[0] < LEAST_CELLS or floor.clean_s <= 0.0:
        return None, ()
    bounds = energy_mean_bounds(cells, limits.confidence, rng)
    offset = setting.offset_db or 0.0
    mean = bounds.mean_db + offset
    up = widened_db(bounds.high_db - bounds.mean_db, evidence.clean_s, floor.clean_s)
    down = widened_db(bounds.mean_db - bounds.low_db, evidence.clean_s, floor.clean_s)
    over = mean[0] - floor.levels.laeq_db
    level = _Level(float(mean[0]), float(over), float(over - down[0]), float(over + up[0]))
    room = dict(zip(floor.levels.third_octave_hz, floor.levels.third_octave_db, strict=True))
    edges = third_octave_edges_hz(evidence.bands_hz)
    bands = []
    for i, hz in enumerate(evidence.bands_hz):
        if hz < limits.lowest_band_hz or hz not in room:
            continue
        power = 10 ** (bounds.mean_db[i + 1] / 10)
        tonal = sum(10 ** (t.level_db / 10) for t in tones if edges[i, 0] <= t.frequency_hz < edges[i, 1])
        rest_db = 10 * np.log10(max(power - tonal, 1e-3 * power)) + offset
        excess = float(rest_db - room[hz])
        low, high = excess - float(down[i + 1]), excess + float(up[i + 1])
        bands.append(Band(hz, excess, low, high, bool(tonal > 0.2 * power)))
    return level, tuple(bands)


def _heard_kinds(kinds: tuple[Kind, ...], limits: Limits) -> list[str]:
    return [
        f"{k.kind}, {_times(k.bouts, 'bout')}, {k.total_s:.0f} s in all, first at {_clock(k.first_s)},"
        f" up to {k.loudest_db:.1f} dB(A)"
        for k in kinds
        if k.kind not in _TONAL and (k.bouts >= limits.bouts or k.presence >= limits.presence)
    ]


def _heard_levels(level: _Level | None, bands: tuple[Band, ...], limits: Limits) -> list[str]:
    found = []
    if level is not None and level.low_db > limits.level_db:
        found.append(f"at least {level.low_db:.1f} dB(A) over the room (most likely {level.excess_db:.1f})")
    loud = [b for b in bands if b.low_db > limits.band_db]
    if loud:
        listed = ", ".join(f"{nominal_name(b.hz)} Hz +{b.excess_db:.1f} dB" for b in loud)
        found.append(f"third-octaves over the room: {listed}")
    return found


def _over_room(tone: Tone, bands: tuple[Band, ...], setting: Setting) -> float | None:
    """Return what a tone stands over the room's level in its third-octave (dB), or None where that is not known."""
    if setting.floor is None or not bands:
        return None
    levels = setting.floor.levels
    place = int(np.argmin([abs(np.log(hz / tone.frequency_hz)) for hz in levels.third_octave_hz]))
    return tone.level_db + (setting.offset_db or 0.0) - levels.third_octave_db[place]


def _heard_tones(tones: tuple[Tone, ...], bands: tuple[Band, ...], setting: Setting) -> list[str]:
    found = []
    for tone in tones:
        over = _over_room(tone, bands, setting)
        if not tone.prominent or over is None or over < 3.0:
            continue
        if setting.offset_db is not None and is_inaudible(tone.frequency_hz, tone.level_db + setting.offset_db):
            continue
        found.append(
            f"a prominent tone at {tone.frequency_hz:.0f} Hz, {over:.0f} dB over the room in its band"
            f" (tone-to-noise {tone.tnr_db:.0f} dB)"
        )
    return found


def _chain_doubts(setting: Setting) -> list[str]:
    doubts = [f"the microphone's chain changes the sound ({f.fault}: {f.seen})" for f in setting.watch.faults]
    if setting.check is None:
        doubts.append("the microphone was never tried for gain control and noise suppression: 'hushweir mic check'")
    elif setting.check.faults:
        doubts += [f"the microphone failed its check ({f.fault}: {f.seen})" for f in setting.check.faults]
    elif not setting.check.acquitted:
        doubts.append("the microphone's check had no loud stretch between two quiet ones: 'hushweir mic check' again")
    return list(dict.fromkeys(doubts))


def _lacking(evidence: Evidence, setting: Setting, limits: Limits) -> list[str]:
    lacking = []
    if setting.floor is None:
        lacking.append("the room with the pumps off is not known: 'hushweir floor'")
    elif setting.floor.clean_s < limits.floor_s:
        lacking.append(f"the room was measured for {setting.floor.clean_s:.0f} s only: 'hushweir floor' again")
    if evidence.clean_s < limits.clean_s:
        if evidence.heard_s - evidence.clean_s > evidence.clean_s:
            lacking.append("other sound masked most of the time: listen when the house is quiet")
        else:
            lacking.append(f"too short: {evidence.clean_s:.0f} s of at least {limits.clean_s:.0f} s unmasked")
    return lacking


def _open_levels(level: _Level | None, bands: tuple[Band, ...], limits: Limits) -> list[str]:
    found = []
    if level is not None and level.low_db <= limits.level_db < level.high_db:
        found.append(f"the level may be up to {level.high_db:.1f} dB(A) over the room, {limits.level_db:g} are allowed")
    wide = [b for b in bands if b.low_db <= limits.band_db < b.high_db]
    if wide:
        listed = ", ".join(f"{nominal_name(b.hz)} Hz up to +{b.high_db:.1f} dB" for b in wide)
        found.append(f"not bounded under {limits.band_db:g} dB over the room: {listed}")
    return found


def _rests_on(
    evidence: Evidence, setting: Setting, limits: Limits, level: _Level | None, bands: tuple[Band, ...],
    per_hour: float | None,
) -> tuple[str, ...]:
    sure = f"{limits.confidence:.0%}"
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
    if per_hour is not None:
        words.append(
            f"fewer than {_round_up(per_hour)} plumbing sounds an hour at {sure} (Garwood, recall {limits.recall:.0%})"
        )
    if setting.check is not None and setting.check.honest:
        words.append("the microphone's chain was tried with loud and quiet sound and left both alone")
    if setting.offset_db is not None:
        words.append("levels are calibrated")
    return tuple(words)


def _cannot_show(evidence: Evidence, setting: Setting) -> tuple[str, ...]:
    words = ["sounds during masked seconds, at other times, at another place or with other settings of valve and pump"]
    if setting.offset_db is None:
        words.append("how loud it is in dB(A) re 20 µPa: not calibrated, all levels are relative to the room")
    if setting.self_noise_db is not None and setting.floor is not None:
        if setting.floor.levels.laeq_db - setting.self_noise_db < 3.0:
            words.append(
                f"anything below what this microphone can hear ({setting.floor.levels.laeq_db:.0f} dB(A)): the room is"
                " no louder than its own noise"
            )
    else:
        words.append("anything below the microphone's own noise, which was not measured")
    if evidence.presence("hum") >= _HUM_NOTED:
        words.append("that no hum is there: one was recognised, which stands out too little to be called prominent")
    words.append("sound below 100 Hz; nor that nothing can flood: silence is no proof of overflow safety")
    if evidence.lost_s:
        words.append(f"{evidence.lost_s:.1f} s that were lost on the way from the microphone")
    return tuple(words)


def _further(evidence: Evidence, limits: Limits, level: _Level | None, count: int) -> tuple[str, ...]:
    words = []
    for rate in (12.0, 3.0, 1.0, 0.25):
        hours = exposure_for_rate(rate, limits.confidence, limits.recall, count)
        if hours * 3600.0 > evidence.clean_s:
            words.append(f"to claim fewer than {rate:g} an hour, listen {_hours(hours)} unmasked without another sound")
            break
    if level is not None and level.high_db - level.excess_db > 0.5:
        width_db = level.high_db - level.excess_db
        words.append(f"four times the time, in the room too, halves the {width_db:.1f} dB of uncertainty of the level")
    return tuple(words)


def _times(count: int, noun: str) -> str:
    return f"{count} {noun}" + ("" if count == 1 else "s")


def _clock(seconds: float) -> str:
    return f"{int(seconds) // 60:02d}:{int(seconds) % 60:02d}"


def _round_up(rate: float) -> str:
    return f"{np.ceil(rate):.0f}" if rate >= 10.0 else f"{np.ceil(rate * 10.0) / 10.0:.1f}"


def _hours(hours: float) -> str:
    return f"{hours:.1f} h" if hours >= 1.0 else f"{np.ceil(hours * 60.0):.0f} min"
