"""One sound of a kind in a quiet room, as a 16-bit capture: everything about it is drawn from its seed."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from tests.bench.another_hand import cyclic, drains, pumps
from tests.bench.another_hand.noise import Floats, amplitude, steady_noise, unit
from tests.bench.another_hand.pipes import coloured
from tests.bench.another_hand.room import heard_through, impulse_response, microphone_response, room_noise

_STEADY = {
    "gurgle": drains.gurgle, "trickle": drains.trickle, "splash": drains.splash, "hiss": drains.hiss,
    "roar": drains.roar, "hum": pumps.hum, "rattle": pumps.rattle,
}
_CYCLIC = {"slurp": cyclic.slurp, "flush": cyclic.flush}
_WITH_PAUSES = (*_CYCLIC, "rattle", "gurgle")
KINDS = ("gurgle", "slurp", "trickle", "splash", "hiss", "flush", "roar", "hum", "rattle")
"""Their order is part of what a seed means."""

_STEADY_LEAD_S = 0.5  # what the room's echo needs to build up
_CYCLIC_LEAD_S = 3.0
_OVER_ROOM_DB = (4, 20)  # in the octave where the ear finds the sound strongest
_ROOM_DB = (-62, -40)  # RMS of the quiet room re full scale
_FULL_SCALE = 32768

_OCTAVES_HZ = 1000 * 2.0 ** np.arange(-4, 4)
_A_WEIGHTS_DB = np.array([-26.2, -16.1, -8.6, -3.2, 0, 1.2, 1.0, -1.1])


def render(kind: str | None, seconds: float, sample_rate: int, seed: int) -> NDArray[np.float32]:
    """Return one channel of a kind of sound over a quiet room, or of the room alone; peak below full scale."""
    n = max(1, round(seconds * sample_rate))
    code = 0 if kind is None else KINDS.index(kind) + 1
    rng = np.random.default_rng([seed, code, 9173])
    source_rng, room_rng, path_rng = rng.spawn(3)
    response = microphone_response(room_rng, sample_rate)
    room = unit(heard_through(room_noise(room_rng, n, sample_rate), sample_rate, response))
    tilt = room_rng.uniform(-0.3, 0.25)
    self_noise = steady_noise(room_rng, n, sample_rate, lambda f: (np.maximum(f, 50) / 1000) ** tilt)
    # self noise stands some way under the whole room, and over it at the top of the band
    room = room + self_noise * amplitude(room_rng.uniform(-32, -14))
    level = amplitude(room_rng.uniform(*_ROOM_DB))
    y = room
    if kind is not None:
        if kind in _CYCLIC:
            drawn = n + int(_CYCLIC_LEAD_S * sample_rate)
            source = _CYCLIC[kind](source_rng, drawn, sample_rate, seconds, _CYCLIC_LEAD_S)
        else:
            source = _STEADY[kind](source_rng, n + int(_STEADY_LEAD_S * sample_rate), sample_rate)
        source = coloured(path_rng, source, sample_rate, path_rng.uniform(2, 6))
        path = impulse_response(path_rng, sample_rate)
        source = heard_through(source, sample_rate, response, path)[-n:]
        gain = _gain_over(source, room, sample_rate, with_pauses=kind in _WITH_PAUSES)
        y = room + source * gain * amplitude(path_rng.uniform(*_OVER_ROOM_DB))
    y = y * level / np.sqrt(np.mean(room**2))
    y = y + (room_rng.random(n) - room_rng.random(n)) / _FULL_SCALE
    y = np.round(y * _FULL_SCALE) / _FULL_SCALE
    peak = np.abs(y).max()
    if peak > 0.97:
        y *= 0.97 / peak
    return y.astype(np.float32)


def _gain_over(source: Floats, room: Floats, rate: int, *, with_pauses: bool) -> float:
    """Return the gain that brings the source level with the room, in the octave where the ear finds it strongest."""
    of_source = _octave_powers(_loud_parts(source, rate) if with_pauses else source, rate)
    of_room = _octave_powers(room, rate)
    weighted_db = np.where(0.4 * rate > _OCTAVES_HZ, 10 * np.log10(of_source) + _A_WEIGHTS_DB, -999)
    strongest = int(np.argmax(weighted_db))
    return np.sqrt(of_room[strongest] / of_source[strongest])


def _loud_parts(x: Floats, rate: int) -> Floats:
    """Return the tenths of a second that are not pauses, one after another."""
    width = max(1, rate // 10)
    count = x.size // width
    if count == 0:
        return x
    energy = np.add.reduceat(x**2, np.arange(0, count * width, width))
    loud = energy > 0.1 * np.sort(energy)[-3:].mean()
    return x[: count * width].reshape(count, width)[loud].ravel()


def _octave_powers(x: Floats, rate: int) -> Floats:
    f_hz, power = signal.welch(x, rate, nperseg=min(4096, x.size))
    return np.array([
        power[(f_hz >= c / 2**0.5) & (f_hz < c * 2**0.5)].sum() * f_hz[1] + 1e-30 for c in _OCTAVES_HZ
    ])
