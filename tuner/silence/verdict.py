"""The verdict: silent, audible or not shown, with what it rests on and what it cannot show.

Silent is said when every one of these holds, each at the confidence asked for: the system adds so little to the room
that its bound stays under the limit, in dB(A) and in every third-octave; no sound of the plumbing was recognised; no
prominent tone stands over the room; the microphone's chain was tried and is honest; enough time was not masked.
Audible is said as soon as one thing was shown to be heard. Everything else is not shown, with the reason.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from tuner.bounds.bootstrap import LEAST_CELLS, energy_mean_bounds, widened_db
from tuner.bounds.intervals import poisson_upper_garwood
from tuner.silence.evidence import Evidence
from tuner.silence.hearing import is_inaudible
from tuner.silence.judgement import TONAL, Band, Kind, Level, Limits, Outcome, Setting, Verdict
from tuner.silence.ratings import rating_of_thirds
from tuner.silence.statements import cannot_show, clock, further, rests_on, times
from tuner.sound.bands import nominal_name, third_octave_edges_hz
from tuner.sound.tones import Tone, find_tones

Floats = NDArray[np.float64]
_LEAST_TNR_DB = -10.0  # a tone that its critical band masks may still fill its third-octave


def judge(evidence: Evidence, setting: Setting, limits: Limits, rng: np.random.Generator) -> Verdict:
    """Return what the evidence shows; ``rng`` draws the bootstrap's blocks."""
    kinds = _kinds(evidence)
    tones = _tones(evidence)
    level, bands = _levels(evidence, setting, limits, tones, rng)
    loud_tones = _heard_tones(tones, bands, setting)
    heard = [*_heard_kinds(kinds, limits), *_heard_levels(level, bands, limits), *loud_tones]
    why = [*_chain_doubts(setting), *_lacking(evidence, setting, limits), *_open_levels(level, bands, limits)]
    why += [
        f"a single {k.kind} at {clock(k.first_s)} may be a chance: listen again" for k in kinds
        if k.kind not in TONAL and 0 < k.bouts < limits.bouts and k.presence < limits.presence
    ]
    outcome: Outcome = "audible" if heard else "not shown" if why else "silent"
    count = sum(k.bouts for k in kinds if k.kind not in TONAL)
    per_hour = None
    if evidence.clean_s > 0.0:
        per_hour = poisson_upper_garwood(count, evidence.clean_s / 3600.0, limits.confidence, limits.recall)
    return Verdict(
        outcome, limits.confidence, evidence.heard_s, evidence.clean_s, level.mean_db if level else None,
        level.excess_db if level else None, level.low_db if level else None, level.high_db if level else None,
        bands, kinds, _scaled(tones, setting), per_hour, tuple(heard), tuple(why),
        rests_on(evidence, setting, limits, level, bands, tones, len(loud_tones), per_hour),
        cannot_show(evidence, setting), further(evidence, limits, level, count), _rating(evidence, setting),
    )  # fmt: skip


def _kinds(evidence: Evidence) -> tuple[Kind, ...]:
    return tuple(
        Kind(kind, b.count, evidence.presence(kind), b.total_s, b.loudest_db, b.first_s)
        for kind, b in sorted(evidence.bouts.items(), key=lambda pair: -pair[1].count)
    )


def _tones(evidence: Evidence) -> tuple[Tone, ...]:
    spectrum = evidence.spectrum()
    return () if spectrum is None else find_tones(spectrum, evidence.frequencies_hz, _LEAST_TNR_DB)


def _scaled(tones: tuple[Tone, ...], setting: Setting) -> tuple[Tone, ...]:
    """Return tones on the scale of all other levels of the verdict: dB re 20 µPa where there is a calibration."""
    return tuple(replace(tone, level_db=tone.level_db + (setting.offset_db or 0.0)) for tone in tones)


def _rating(evidence: Evidence, setting: Setting) -> str:
    if setting.offset_db is None or not evidence.cells.shape[0]:
        return ""
    thirds_db = 10.0 * np.log10(evidence.cells[:, 1:].mean(axis=0) + 1e-20) + setting.offset_db
    return rating_of_thirds(evidence.bands_hz, thirds_db.tolist())


def _levels(
    evidence: Evidence, setting: Setting, limits: Limits, tones: tuple[Tone, ...], rng: np.random.Generator
) -> tuple[Level | None, tuple[Band, ...]]:
    floor, cells = setting.floor, evidence.cells
    if floor is None or cells.shape[0] < LEAST_CELLS or floor.clean_s <= 0.0:
        return None, ()
    bounds = energy_mean_bounds(cells, limits.confidence, rng)
    offset = setting.offset_db or 0.0
    mean = bounds.mean_db + offset
    up = widened_db(bounds.high_db - bounds.mean_db, evidence.clean_s, floor.clean_s)
    down = widened_db(bounds.mean_db - bounds.low_db, evidence.clean_s, floor.clean_s)
    over = mean[0] - floor.levels.laeq_db
    level = Level(float(mean[0]), float(over), float(over - down[0]), float(over + up[0]))
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
        whole_db = float(bounds.mean_db[i + 1]) + offset
        bands.append(Band(hz, excess, low, high, bool(tonal > 0.2 * power), room[hz], whole_db))
    return level, tuple(bands)


def _heard_kinds(kinds: tuple[Kind, ...], limits: Limits) -> list[str]:
    return [
        f"{k.kind}, {times(k.bouts, 'bout')}, {k.total_s:.0f} s in all, first at {clock(k.first_s)},"
        f" up to {k.loudest_db:.1f} dB(A)"
        for k in kinds
        if k.kind not in TONAL and (k.bouts >= limits.bouts or k.presence >= limits.presence)
    ]


def _heard_levels(level: Level | None, bands: tuple[Band, ...], limits: Limits) -> list[str]:
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
    if setting.floor is not None and setting.floor.levels.calibrated and setting.floor.levels.laeq_db > limits.room_db:
        lacking.append(
            f"the room reads {setting.floor.levels.laeq_db:.0f} dB(A) with the pumps off: the microphone is too noisy,"
            " or the room too loud, to hear what is softer; take another microphone, or a quieter hour"
        )
    if evidence.clean_s < limits.clean_s:
        if evidence.heard_s - evidence.clean_s > evidence.clean_s:
            lacking.append("other sound masked most of the time: listen when the house is quiet")
        else:
            lacking.append(f"too short: {evidence.clean_s:.0f} s of at least {limits.clean_s:.0f} s unmasked")
    return lacking


def _open_levels(level: Level | None, bands: tuple[Band, ...], limits: Limits) -> list[str]:
    found = []
    if level is not None and level.low_db <= limits.level_db < level.high_db:
        found.append(f"the level may be up to {level.high_db:.1f} dB(A) over the room, {limits.level_db:g} are allowed")
    wide = [b for b in bands if b.low_db <= limits.band_db < b.high_db]
    if wide:
        listed = ", ".join(f"{nominal_name(b.hz)} Hz up to +{b.high_db:.1f} dB" for b in wide)
        found.append(f"not bounded under {limits.band_db:g} dB over the room: {listed}")
    return found


