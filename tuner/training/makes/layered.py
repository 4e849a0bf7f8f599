"""The nine kinds of sound, laid from shaped noise, throngs of notes and swells.

Each recipe draws what its kind has in common with all its likes (where its power lies, what swells, what returns) and
leaves the rest to chance. Spans are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from tuner.rehearsal.voices.control import checked_drive, step_samples
from tuner.terms import SoundKind
from tuner.training.makes.draws import Drawn, stretches
from tuner.training.makes.textures import Band, Notes, noise, patter, rasp, swell, throng

Floats = NDArray[np.float64]


class _Draw(Drawn):
    """One sound in the making: random numbers, rate and drive, and the layers laid so far."""

    def __init__(self, rng: np.random.Generator, sample_rate: int, drive: Floats, mains_hz: float) -> None:
        self.rng, self.rate, self.drive, self.mains_hz = rng, sample_rate, drive, mains_hz
        self.step = step_samples(sample_rate)
        self.n = drive.size * self.step
        self.smooth = np.interp(np.arange(self.n), (np.arange(drive.size) + 0.5) * self.step, drive)
        self.out = np.zeros(self.n)

    def noise(self, band: Band, envelope: Floats, level_db: float) -> None:
        """Add noise under an envelope."""
        self.out += 10.0 ** (level_db / 20.0) * noise(self.rng, self.rate, self.n, band) * envelope

    def notes(self, notes: Notes, level_db: float, drive: Floats | None = None, envelope: Floats | None = None) -> None:
        """Add notes that follow the drive."""
        laid = throng(self.rng, self.rate, self.drive if drive is None else drive, self.step, notes)
        self.out += 10.0 ** (level_db / 20.0) * (laid if envelope is None else laid * envelope)

    def swell(self, corner_hz: float, depth: float) -> Floats:
        """Return a slow random swell."""
        return swell(self.rng, self.rate, self.n, corner_hz, depth)

    def bouts(self) -> list[tuple[int, int, float]]:
        """Return first and last sample and the strength of each stretch in which the drive is not 0."""
        return [
            (a * self.step, b * self.step, float(self.drive[a:b].mean())) for a, b in stretches(self.drive > 0.0)
        ]


def _gurgle(d: _Draw) -> None:
    glug = d.swell(d.flat(1.0, 8.0), d.flat(0.1, 0.9))
    if d.chance(0.3):
        glug = glug * rasp(d.rng, d.rate, d.n, d.flat(1.5, 3.0), d.flat(3.0, 8.0), d.flat(0.4, 1.0))
    low_hz = d.log(120.0, 450.0)
    d.notes(
        Notes(
            d.log(4.0, 70.0), low_hz, low_hz * d.log(2.0, 8.0), d.log(2.0, 25.0), d.log(1.0, 8.0), d.log(0.03, 0.3),
            d.flat(0.0, 1.0), d.flat(0.0, 0.6), d.flat(0.3, 0.9),
        ), 0.0, envelope=glug,
    )
    body = Band(d.log(80.0, 300.0), d.log(500.0, 2500.0), tilt_db=d.flat(-4.0, 1.0), peak_hz=d.log(150.0, 900.0),
                peak_db=d.flat(0.0, 10.0), above_db=d.flat(6.0, 15.0))
    d.noise(body, np.sqrt(d.smooth) * glug * d.swell(d.flat(3.0, 15.0), d.flat(0.2, 0.8)), d.flat(-28.0, 2.0))


def _slurp(d: _Draw) -> None:
    band = Band(d.log(120.0, 600.0), d.log(1200.0, 7000.0), tilt_db=d.flat(-5.0, 2.0), peak_hz=d.log(200.0, 2500.0),
                peak_db=d.flat(0.0, 12.0), above_db=d.flat(6.0, 15.0))
    rough = rasp(d.rng, d.rate, d.n, d.log(8.0, 25.0), d.log(25.0, 90.0), d.flat(0.3, 1.0))
    way = d.rng.random()
    if way < 0.3:  # gulps
        rough = rough * rasp(d.rng, d.rate, d.n, d.flat(0.8, 2.5), d.flat(2.0, 6.0), d.flat(0.7, 1.0))
    elif way < 0.55:  # sputter
        rough = rough * np.minimum(3.0, patter(d.rng, d.rate, d.n, d.log(5.0, 25.0), d.log(0.02, 0.12)))
    rough = rough * d.swell(d.flat(2.0, 12.0), d.flat(0.05, 0.5))
    shape, power, last = np.zeros(d.n), d.log(0.15, 3.0), d.flat(0.0, 2.5) * d.chance(0.4)
    falling = d.chance(0.25)
    for first, end, strength in d.bouts():
        share = (np.arange(end - first) + 1.0) / (end - first)
        rise = (1.0 - share) ** power if falling else share**power
        rise = rise + last * np.exp(-(((share - 0.92) / 0.07) ** 2))
        shape[first:end] = strength * rise * np.minimum(1.0, (1.0 - share) * (end - first) / (0.02 * d.rate))
    d.noise(band, shape * rough, 0.0)
    notes = Notes(d.log(8.0, 90.0), d.log(150.0, 500.0), d.log(800.0, 4000.0), d.log(2.0, 20.0), d.log(1.0, 5.0),
                  d.log(0.02, 0.15), d.flat(0.0, 0.8), d.flat(0.0, 0.5))
    d.notes(notes, d.flat(-25.0, 3.0), envelope=np.sqrt(shape))


def _trickle(d: _Draw) -> None:
    gusts = d.swell(d.flat(0.5, 6.0), d.flat(0.03, 0.35))
    low_hz = d.log(600.0, 2000.0)
    rate_hz = d.log(25.0, 900.0)
    d.notes(
        Notes(rate_hz, low_hz, low_hz * d.log(2.0, 7.0), d.log(3.0, 40.0), d.log(1.0, 6.0), d.log(0.005, 0.05),
              d.flat(0.0, 1.0), d.flat(0.0, 0.5), d.flat(0.3, 0.9)), 0.0, envelope=gusts,
    )
    bright = Band(d.log(1000.0, 3500.0), d.log(5000.0, 14000.0), tilt_db=d.flat(-3.0, 1.0))
    d.noise(bright, np.sqrt(d.smooth) * gusts, d.flat(-30.0, -3.0))


def _splash(d: _Draw) -> None:
    rush = Band(d.log(150.0, 700.0), d.log(2500.0, 11000.0), tilt_db=d.flat(-4.5, 0.5), above_db=d.flat(4.0, 12.0))
    restless = d.swell(d.flat(4.0, 25.0), d.flat(0.25, 1.1)) * d.swell(d.flat(0.5, 3.0), d.flat(0.05, 0.4))
    if d.chance(0.5):
        restless = restless * np.minimum(4.0, patter(d.rng, d.rate, d.n, d.log(6.0, 60.0), d.log(0.008, 0.1)))
    strength = np.sqrt(d.smooth)
    d.noise(rush, strength * restless, 0.0)
    low_hz = d.log(300.0, 900.0)
    d.notes(
        Notes(d.log(10.0, 150.0), low_hz, low_hz * d.log(3.0, 9.0), d.log(3.0, 25.0), d.log(1.0, 8.0),
              d.log(0.01, 0.08), d.flat(0.0, 1.0), d.flat(0.0, 0.5)), d.flat(-14.0, 5.0), envelope=restless,
    )


def _hiss(d: _Draw) -> None:
    peak_hz = d.log(2500.0, 9000.0)
    air = Band(
        d.log(900.0, 5000.0), d.log(6000.0, 16000.0), below_db=d.flat(6.0, 18.0), tilt_db=d.flat(-2.0, 3.0),
        peak_hz=peak_hz, peak_db=d.flat(0.0, 8.0) if d.chance(0.5) else 0.0, peak_octaves=d.flat(0.1, 0.8),
    )
    d.noise(air, d.smooth * d.swell(d.flat(0.2, 6.0), d.flat(0.005, 0.12)), 0.0)


def _flush(d: _Draw) -> None:
    body = Band(d.log(60.0, 250.0), d.log(500.0, 4000.0), tilt_db=d.flat(-5.0, 0.0), peak_hz=d.log(120.0, 900.0),
                peak_db=d.flat(0.0, 8.0), above_db=d.flat(4.0, 12.0))
    gasp_band = Band(d.log(200.0, 800.0), d.log(1500.0, 8000.0), tilt_db=d.flat(-4.0, 2.0),
                     peak_hz=d.log(300.0, 2000.0), peak_db=d.flat(0.0, 10.0))
    rises, gasps = np.zeros(d.n), np.zeros(d.n)
    top, power, gasp_s = d.flat(0.4, 1.0), d.log(0.4, 2.5), d.flat(0.2, 1.4)
    for first, end, strength in d.bouts():
        share = (np.arange(end - first) + 1.0) / (end - first)
        rises[first:end] = strength * np.where(
            share < top, (share / top) ** power, np.maximum(0.05, (1.0 - share) / max(1e-3, 1.0 - top)) ** 0.7
        )
        middle, width = end / d.rate - d.flat(-0.3, 0.6) * gasp_s, 0.45 * gasp_s
        reach = slice(max(0, int((middle - 2 * width) * d.rate)), min(d.n, int((middle + 2 * width) * d.rate)))
        t = np.arange(d.n)[reach] / d.rate
        gasps[reach] = strength * np.exp(-(((t - middle) / width) ** 2))
    churn = d.swell(d.flat(3.0, 20.0), d.flat(0.05, 0.5))
    d.noise(body, rises * churn, 0.0)
    steps = rises.reshape(-1, d.step).mean(axis=1)
    notes = Notes(d.log(20.0, 200.0), d.log(120.0, 400.0), d.log(800.0, 4000.0), d.log(2.0, 15.0), d.log(1.0, 6.0),
                  d.log(0.02, 0.1), d.flat(0.0, 0.8), d.flat(0.0, 0.5))
    d.notes(notes, d.flat(-18.0, 4.0), drive=steps)
    rough = rasp(d.rng, d.rate, d.n, d.log(8.0, 25.0), d.log(25.0, 80.0), d.flat(0.1, 0.95))
    d.noise(gasp_band, gasps * rough, d.flat(-12.0, 6.0))


def _roar(d: _Draw) -> None:
    low_hz = d.log(50.0, 300.0)
    fall = Band(low_hz, low_hz * d.log(3.0, 12.0), tilt_db=d.flat(-6.0, -1.0), peak_hz=d.log(100.0, 800.0),
                peak_db=d.flat(0.0, 8.0), above_db=d.flat(5.0, 14.0))
    churn = d.swell(d.flat(2.0, 15.0), d.flat(0.04, 0.4))
    d.noise(fall, d.smooth * churn, 0.0)
    notes = Notes(d.log(30.0, 250.0), d.log(120.0, 400.0), d.log(800.0, 3500.0), d.log(2.0, 15.0), d.log(1.0, 8.0),
                  d.log(0.02, 0.1), d.flat(0.0, 0.8), d.flat(0.0, 0.5))
    d.notes(notes, d.flat(-22.0, 1.0), envelope=churn)


def _hum(d: _Draw) -> None:
    t = np.arange(d.n) / d.rate
    base_hz = d.mains_hz * float(d.rng.choice([1.0, 2.0, 2.0])) if d.chance(0.7) else d.flat(30.0, 180.0)
    falling = d.flat(1.0, 9.0)
    for k in range(1, 13):
        if base_hz * k < 0.45 * d.rate:
            gain = 10.0 ** ((-falling * np.log2(k) + 5.0 * d.rng.standard_normal()) / 20.0)
            d.out += gain * np.sin(2.0 * np.pi * base_hz * k * t + d.flat(0.0, 6.28))
    beat = 1.0 - d.flat(0.0, 0.5) * (0.5 + 0.5 * np.sin(2.0 * np.pi * d.log(0.1, 4.0) * t)) * d.chance(0.5)
    d.out *= d.smooth * beat
    whirr = Band(d.log(60.0, 300.0), d.log(300.0, 2500.0), tilt_db=d.flat(-6.0, 0.0))
    d.noise(whirr, d.smooth * float(np.sqrt(np.mean(d.out**2))), d.flat(-30.0, -8.0))


def _rattle(d: _Draw) -> None:
    rate_hz, jitter = d.log(5.0, 100.0), d.log(0.005, 0.25)
    at = np.arange(int(d.n / d.rate * rate_hz)) + jitter * d.rng.standard_normal(int(d.n / d.rate * rate_hz))
    starts = (at / rate_hz * d.rate).astype(np.int64)
    starts = starts[(starts >= 0) & (starts < d.n) & (d.rng.random(starts.size) > d.flat(0.0, 0.4))]
    blows = np.zeros(d.n)
    strength = d.swell(d.flat(0.5, 4.0), d.flat(0.05, 0.5)) * d.smooth
    np.add.at(blows, starts, strength[starts] * np.exp(d.flat(0.05, 0.5) * d.rng.standard_normal(starts.size)))
    t = np.arange(int(0.08 * d.rate)) / d.rate
    knock = d.flat(0.0, 0.8) * d.rng.standard_normal(t.size) * np.exp(-t / d.log(0.0008, 0.006))
    for _ in range(int(d.rng.integers(1, 7))):
        pitch_hz = d.log(200.0, min(7000.0, 0.4 * d.rate))
        ring_s = d.log(2.0, 20.0) / pitch_hz
        knock += np.exp(0.6 * d.rng.standard_normal()) * np.sin(2.0 * np.pi * pitch_hz * t) * np.exp(-t / ring_s)
    from scipy.signal import oaconvolve

    d.out += oaconvolve(blows, knock * np.linspace(1.0, 0.0, t.size))[: d.n]


_RECIPES: dict[SoundKind, Callable[[_Draw], None]] = {
    "gurgle": _gurgle, "slurp": _slurp, "trickle": _trickle, "splash": _splash, "hiss": _hiss, "flush": _flush,
    "roar": _roar, "hum": _hum, "rattle": _rattle,
}


def sound(kind: SoundKind, rng: np.random.Generator, sample_rate: int, drive: Floats, mains_hz: float) -> Floats:
    """Return a new draw of the kind, at no level: shape (len(drive) * step,), silent but for what rings on."""
    draw = _Draw(rng, sample_rate, checked_drive(drive), mains_hz)
    if not draw.drive.any():
        return draw.out
    _RECIPES[kind](draw)
    if kind == "flush":  # it gasps after its end
        return draw.out
    driven = np.interp(np.arange(draw.n), np.arange(drive.size) * draw.step, draw.drive) > 0.0
    out: Floats = draw.out * driven
    return out


def room(rng: np.random.Generator, sample_rate: int, n: int) -> Floats:
    """Return n samples of a room at rest, of any tilt and with any hump, at no level."""
    knee_hz = float(np.exp(rng.uniform(np.log(40.0), np.log(600.0))))
    band = Band(
        knee_hz, float(np.exp(rng.uniform(np.log(3000.0), np.log(14000.0)))), below_db=float(rng.uniform(0.0, 6.0)),
        tilt_db=float(rng.uniform(-9.0, -2.0)), above_db=6.0, ripple_db=float(rng.uniform(0.5, 3.0)),
        peak_hz=float(np.exp(rng.uniform(np.log(80.0), np.log(1500.0)))),
        peak_db=float(rng.uniform(2.0, 10.0)) if rng.random() < 0.4 else 0.0, peak_octaves=float(rng.uniform(0.2, 1.0)),
    )
    tone = noise(rng, sample_rate, n, band)
    own = noise(rng, sample_rate, n, Band(20.0, 0.45 * sample_rate, tilt_db=float(rng.uniform(-1.0, 0.5))))
    tone = tone * swell(rng, sample_rate, n, float(rng.uniform(0.05, 1.0)), float(rng.uniform(0.0, 0.1)))
    tone = tone + own * 10.0 ** (float(rng.uniform(-45.0, -14.0)) / 20.0)
    if rng.random() < 0.3:
        hum_hz = float(rng.choice([50.0, 60.0, 100.0, 120.0]))
        tone = tone + 10.0 ** (float(rng.uniform(-20.0, -3.0)) / 20.0) * np.sin(
            2.0 * np.pi * hum_hz * np.arange(n) / sample_rate
        )
    return np.asarray(tone, dtype=np.float64)
