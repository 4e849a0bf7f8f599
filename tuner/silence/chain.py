"""Whether the microphone's chain leaves the sound as it is: gain control, suppression, gates, clipping.

What is listened for follows from what such processing does. A gain control turns the gain down while it is loud: the
room is then too quiet afterwards and comes back up over seconds. A suppressor takes steady noise away within seconds
of its onset, leaves single bins standing where the noise was (a roughness that no room has), or shuts down to digital
silence. A gate lets the room through for a moment and then shuts it off more suddenly than any room falls silent.
A clipped wave lies flat at its crest. The check therefore wants a quiet stretch, a loud steady one and a
quiet one again; without them it can convict, but not acquit.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tuner.sound.bands import band_weights, octave_edges_hz
from tuner.sound.frames import Framer, Slab, frame_frequencies_hz
from tuner.sound.weighting import a_weighting_power

Floats = NDArray[np.float64]
Fault = Literal[
    "gain control", "noise suppression", "gating", "clipping", "offset", "digital silence", "sample rate",
]

LONGEST_S = 300.0
STEP_S = 0.1

_OCTAVES_HZ = (250.0, 500.0, 1000.0, 2000.0, 4000.0)
_ROUGH_HZ = (300.0, 7000.0)
_LOCAL_BINS = 9
_LOUD_DB = 6.0  # over the quiet: a gain control may leave no more of a loud stretch
_TRIAL_DB = 12.0  # over the quiet: enough to set a gain control or a suppressor going
_LEAST_LOUD_S = 3.0
_LEAST_QUIET_S = 3.0
_SETTLE_S = 0.7  # a living room's reverberation is over by then
# Thresholds, set on drawn chains.
_DIP_DB = 1.5
_RISE_DB = 1.8
_FADE_DB = 3.5
_ROUGH_DB = 6.3  # Gaussian noise, whatever its spectrum: 5.4
_GATE_DB = 10.0
_GATE_STEADY_DB = 2.5  # spread of the room over the plateau before the gate shuts
_GATE_UNDER_LOUD_DB = 6.0
_PLATEAU, _SHUTS, _STAYS = 3, 3, 12  # steps: the room is seen before, shut off, and stays off
_CREST_SHARE = 0.95  # of the highest crest: what lies above is the top of the wave
_HEIGHTS = 600  # steps of half a percent in which heights are counted, the highest of them full scale
_FLAT_SAMPLES = 12
_FLAT_PEAK = 0.05  # of full scale: below, coarse bits make any crest flat
_OFFSET = 0.02
_DIGITAL = 1e-12  # mean square below the last bit of 20-bit sound: no electric microphone is so quiet
_DIGITAL_SHARE = 0.02
_LIVELY_HZ = (300.0, 3000.0)
_DEAD = 3e-6  # 55 dB under the lively bands: a resampler's stop band, seldom a room's fall to high frequencies


@dataclass(frozen=True, slots=True)
class ChainFault:
    """One way in which the chain is not honest, with what was seen."""

    fault: Fault
    seen: str


@dataclass(frozen=True, slots=True)
class ChainReport:
    """What a check came to.

    ``acquitted`` tells whether loud and quiet stretches were there, so that gain control and suppression would have
    shown themselves. ``texture_db`` is the roughness of the quiet spectrum (5.4 for noise), ``quiet_db`` and
    ``loud_db`` are A-weighted levels re full scale (None when there was none), ``bandwidth_hz`` is where the spectrum
    ends.
    """

    faults: tuple[ChainFault, ...]
    acquitted: bool
    duration_s: float
    quiet_db: float | None
    loud_db: float | None
    texture_db: float | None
    offset: float
    clipped: int
    bandwidth_hz: float

    @property
    def honest(self) -> bool:
        """Whether the chain was put to the test and nothing was found."""
        return self.acquitted and not self.faults


def gathered(faults: Iterable[ChainFault]) -> tuple[ChainFault, ...]:
    """Return the faults with all that was seen of each in one, in the order in which they were first found.

    >>> gathered([ChainFault("clipping", "a"), ChainFault("offset", "b"), ChainFault("clipping", "c")])[0].seen
    'a; c'
    """
    seen: dict[Fault, list[str]] = {}
    for found in faults:
        words = seen.setdefault(found.fault, [])
        if found.seen not in words:
            words.append(found.seen)
    return tuple(ChainFault(fault, "; ".join(words)) for fault, words in seen.items())


HOW_TO_SWITCH_OFF: dict[str, str] = {
    "linux": "unload echo-cancel or noise-filter modules, open the plain source or the hw: device, and turn 'Auto Gain"
    " Control' off and any capture boost to a fixed value in the mixer",
    "darwin": "set the microphone mode to Standard (not Voice Isolation), switch 'ambient noise reduction' off where"
    " the sound settings show it, and leave the input level alone",
    "win32": "switch all audio enhancements of the device off (sound settings, device properties), remove a maker's"
    " noise removal program, and leave the level alone",
    "phone": "use a recorder that takes the unprocessed or measurement source, not the voice one",
    "browser": "ask for echoCancellation, noiseSuppression and autoGainControl false, and read the settings back",
}
"""How processing is switched off, in general terms, by system."""


class ChainCheck:
    """Watches a stream: ``push`` takes samples (or ``take`` slabs), ``report`` says what was found so far.

    Memory covers five minutes.
    """

    def __init__(self, sample_rate: int) -> None:
        self.sample_rate = sample_rate
        self._framer = Framer(sample_rate)
        frequencies = frame_frequencies_hz(sample_rate)
        octaves = [hz for hz in _OCTAVES_HZ if hz * 10**0.15 <= sample_rate / 2]
        self._octaves = np.ascontiguousarray(band_weights(frequencies, octave_edges_hz(octaves)).T, dtype=np.float32)
        self._a_curve = a_weighting_power(frequencies).astype(np.float32)
        top_hz = min(_ROUGH_HZ[1], 0.85 * sample_rate / 2)
        self._rough = (int(np.searchsorted(frequencies, _ROUGH_HZ[0])), int(np.searchsorted(frequencies, top_hz)))
        self._frequencies = frequencies
        self.reset()

    def reset(self) -> None:
        """Be as new."""
        self._framer.reset()
        steps = int(LONGEST_S / STEP_S)
        self._bands: deque[Floats] = deque(maxlen=steps)
        self._level: deque[float] = deque(maxlen=steps)
        self._texture: deque[float] = deque(maxlen=steps)
        self._power: deque[float] = deque(maxlen=steps)
        self._sum = 0.0
        self._samples = 0
        self._peak = 0.0
        self._at_peak = 0
        self._heights = np.zeros(_HEIGHTS, dtype=np.int64)
        self._full = 0
        self._spectrum = np.zeros(self._frequencies.size)

    def gap(self) -> None:
        """Say that samples were lost: nothing is glued across."""
        self._framer.reset()

    def push(self, samples: NDArray[np.floating]) -> None:
        """Take the next samples, float in [-1, 1]."""
        for slab in self._framer.push(samples):
            self.take(slab)

    def take(self, slab: Slab) -> None:
        """Take the next slab of a framer that others use too."""
        power = slab.power
        self._bands.append(10.0 * np.log10(power @ self._octaves + 1e-20).mean(axis=0).astype(np.float64))
        self._level.append(10.0 * float(np.log10((power @ self._a_curve).mean(dtype=np.float64) + 1e-20)))
        self._texture.append(self._roughness(power))
        x = slab.samples.astype(np.float64)
        self._sum += float(x.sum())
        self._samples += x.size
        self._power.append(float(np.mean((x - x.mean()) ** 2)))
        self._spectrum += power.mean(axis=0)
        self._crests(slab.samples)

    def _roughness(self, power: NDArray[np.float32]) -> float:
        """Return the spread (dB) of the bins about their neighbourhood; spectral holes and lone bins raise it."""
        first, last = self._rough
        log_power = 10.0 * np.log10(power[::3, first:last].astype(np.float64) + 1e-20)
        sums = np.cumsum(log_power, axis=1)
        span = 2 * _LOCAL_BINS
        local = (sums[:, span:] - sums[:, :-span]) / span
        return float(np.std(log_power[:, _LOCAL_BINS:-_LOCAL_BINS] - local))

    def _crests(self, samples: NDArray[np.float32]) -> None:
        """Count the samples at the height of the highest crest so far, and by height those near it."""
        size = np.abs(samples)
        self._full += int(np.count_nonzero(size >= 0.9999))
        peak = float(size.max())
        if peak > self._peak:
            self._peak, self._at_peak = peak, 0
        self._at_peak += int(np.count_nonzero(size == self._peak))
        near = size[size >= _CREST_SHARE * max(self._peak, _FLAT_PEAK)]
        self._heights += np.bincount(_height(near), minlength=_HEIGHTS)

    def _is_flat(self) -> bool:
        """Tell whether more samples lie at the very height of the crest than close below it.

        The higher, the rarer: of sound that was not cut off it is the other way round, in few bits too.
        """
        if self._peak < _FLAT_PEAK or self._at_peak < _FLAT_SAMPLES:
            return False
        near = int(self._heights[int(_height(np.array(_CREST_SHARE * self._peak))) :].sum())
        return self._at_peak > near - self._at_peak

    def report(self, *, trial: bool) -> ChainReport:
        """Say what was found in what is remembered.

        In a ``trial`` the sound is known to be quiet, loud and steady, quiet: its course counts. Otherwise the level
        may come and go by itself, and only the wave and the texture can convict.
        """
        level, bands = np.array(self._level), np.array(self._bands)
        faults: list[ChainFault] = []
        faults += self._wave_faults()
        loud = _loud_span(level) if trial else None
        quiet_db, loud_db, texture, acquitted = None, None, None, False
        if level.size * STEP_S >= _LEAST_QUIET_S:
            quiet = level <= np.quantile(level, 0.25) + 3.0
            quiet_db = float(np.median(level[quiet]))
            texture = float(np.median(np.array(self._texture)[quiet]))
            faults += _texture_faults(texture)
        if loud is not None:
            loud_db = float(10 * np.log10(np.mean(10 ** (level[loud[0] : loud[1]] / 10))))
            acquitted = _has_quiet_around(level.size, loud) and loud_db - (quiet_db or 0.0) >= _TRIAL_DB
            faults += _gate_fault(bands, loud)
            faults += _course_faults(bands, loud)
            rough = float(np.median(np.array(self._texture)[loud[0] : loud[1]]))
            faults += _texture_faults(rough)
        elif trial and level.size:
            faults += _start_fault(bands)
        return ChainReport(
            gathered(faults), acquitted, level.size * STEP_S, quiet_db, loud_db, texture,
            self._sum / max(self._samples, 1), self._full, self._bandwidth_hz(),
        )

    def _wave_faults(self) -> list[ChainFault]:
        faults: list[ChainFault] = []
        if self._is_flat():
            faults.append(ChainFault("clipping", f"the wave lies flat at its crest ({self._peak:.2f} of full scale)"))
        mean = self._sum / max(self._samples, 1)
        if abs(mean) > _OFFSET:
            faults.append(ChainFault("offset", f"a constant of {mean:+.3f} of full scale lies under the sound"))
        power = np.array(self._power)
        if power.size and float(np.mean(power < _DIGITAL)) > _DIGITAL_SHARE:
            faults.append(ChainFault("digital silence", f"{np.mean(power < _DIGITAL):.0%} of the time nothing moves"))
        return faults

    def _bandwidth_hz(self) -> float:
        """Return where the spectrum falls to the last bit for good: below that of the rate, something resampled."""
        inside = (self._frequencies > _LIVELY_HZ[0]) & (self._frequencies < _LIVELY_HZ[1])
        usual = float(np.median(self._spectrum[inside]))
        if usual <= 0.0:
            return 0.0
        alive = np.flatnonzero(self._spectrum > _DEAD * usual)
        return float(self._frequencies[alive[-1]]) if alive.size else 0.0


def _height(size: NDArray[np.floating]) -> NDArray[np.intp]:
    """Return the number of the step in which a sample's size (share of full scale) is counted."""
    steps: NDArray[np.intp] = np.floor(200.0 * np.log(size)).astype(np.intp) + _HEIGHTS - 1
    return np.clip(steps, 0, _HEIGHTS - 1)


def _loud_span(level: Floats) -> tuple[int, int] | None:
    """Return the longest stretch (steps) that stands over the quiet by 6 dB; short dips are bridged."""
    if level.size * STEP_S < _LEAST_LOUD_S + _LEAST_QUIET_S:
        return None
    over = level > np.quantile(level, 0.2) + _LOUD_DB
    best: tuple[int, int] | None = None
    start = last = -1
    for i in np.flatnonzero(over):
        if start < 0 or i - last > 5:
            start = int(i)
        last = int(i)
        if best is None or last + 1 - start > best[1] - best[0]:
            best = (start, last + 1)
    if best is None or (best[1] - best[0]) * STEP_S < _LEAST_LOUD_S:
        return None
    return best


def _has_quiet_around(steps: int, loud: tuple[int, int]) -> bool:
    least = round(_LEAST_QUIET_S / STEP_S)
    return loud[0] >= least and steps - loud[1] >= 2 * least


def _at(bands: Floats, from_s: float, to_s: float, origin: int) -> Floats | None:
    """Return the median band levels between two times after ``origin`` (steps), or None when nothing lies there."""
    first, last = origin + round(from_s / STEP_S), origin + round(to_s / STEP_S)
    part = bands[max(first, 0) : max(last, 0)]
    return np.median(part, axis=0) if part.shape[0] >= 2 else None


def _course_faults(bands: Floats, loud: tuple[int, int]) -> list[ChainFault]:
    """Compare the room before, just after and well after the loud stretch, and the stretch's beginning with its end."""
    faults: list[ChainFault] = []
    start, end = loud
    before = _at(bands, -4.0, -0.3, start)
    early = _at(bands, _SETTLE_S, _SETTLE_S + 1.0, end)
    late = bands[end + round(4.0 / STEP_S) :]
    if before is not None and early is not None:
        dip = float(np.median(before - early))
        if dip > _DIP_DB:
            faults.append(ChainFault("gain control", f"after loud sound the room reads {dip:.1f} dB too low"))
    if early is not None and late.shape[0] >= 10:
        rise = float(np.median(np.median(late[-30:], axis=0) - early))
        if rise > _RISE_DB:
            faults.append(ChainFault("gain control", f"the room comes back up by {rise:.1f} dB after loud sound"))
        if rise < -_FADE_DB:
            faults.append(ChainFault("noise suppression", f"the room fades by {-rise:.1f} dB after loud sound"))
    first, last = _at(bands, 0.2, 0.6, start), _at(bands, -2.0, -0.2, end)
    if first is not None and last is not None:
        fade = float(np.median(first - last))
        if fade > _FADE_DB:
            what: Fault = "gain control" if any(f.fault == "gain control" for f in faults) else "noise suppression"
            faults.append(ChainFault(what, f"steady noise fades by {fade:.1f} dB while it goes on"))
    faults += _start_fault(bands[: max(start - 3, 0)])
    return faults


def _gate_fault(bands: Floats, loud: tuple[int, int]) -> list[ChainFault]:
    """Find where steady room noise, well under the loud stretch, falls to far less within a third of a second and
    stays there: a hole of lost sound is shorter.
    """
    middle = np.median(bands, axis=1)
    if middle.size < _PLATEAU + _SHUTS + _STAYS:
        return []
    windows = np.lib.stride_tricks.sliding_window_view
    seen = windows(middle, _PLATEAU)
    shift = _PLATEAU + _SHUTS - 1
    after = windows(middle[shift:], _STAYS).max(axis=1)
    before, spread = np.median(seen, axis=1)[: after.size], np.ptp(seen, axis=1)[: after.size]
    under = before < float(np.quantile(middle[loud[0] : loud[1]], 0.8)) - _GATE_UNDER_LOUD_DB
    fall = np.where((spread < _GATE_STEADY_DB) & under, before - after, 0.0)
    if float(fall.max()) < _GATE_DB:
        return []
    return [ChainFault("gating", f"the steady room is shut off by {min(fall.max(), 99.0):.0f} dB at a blow")]


def _start_fault(bands: Floats) -> list[ChainFault]:
    """Compare the first second with what follows: a suppressor that starts has not learnt the room yet."""
    first, later = _at(bands, 0.2, 1.0, 0), _at(bands, 3.0, 6.0, 0)
    if first is None or later is None:
        return []
    fade = float(np.median(first - later))
    if fade > _FADE_DB:
        return [ChainFault("noise suppression", f"the room's steady noise fades by {fade:.1f} dB within seconds")]
    return []


def _texture_faults(texture_db: float) -> list[ChainFault]:
    if texture_db > _ROUGH_DB:
        seen = f"the spectrum is full of holes (spread {texture_db:.1f} dB; noise has 5.4)"
        return [ChainFault("noise suppression", seen)]
    return []
