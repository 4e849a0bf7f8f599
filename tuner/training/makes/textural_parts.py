"""Statistical building blocks: noise subbands under drawn envelopes, marked point processes, lines and pulses.

A texture is known by the statistics of its subbands (marginal, modulation spectrum, correlation between bands), not
by its waveform. Each block here takes such statistics and returns a sound that has them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tuner.rehearsal.voices.control import CONTROL_S, step_samples
from tuner.training.makes.draws import stretches

Floats = NDArray[np.float64]
FRAME_S = 0.005
_LOW_OCTAVE = float(np.log2(31.0))


def spread(rng: np.random.Generator, low: float, high: float) -> float:
    """Return a value from ``low`` to ``high``, even on a logarithmic scale."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


@dataclass
class Scene:
    """What every block needs: the generator, the rate and the drive on a grid of about ``FRAME_S``."""

    rng: np.random.Generator
    rate: int
    n: int
    times: Floats
    drive: Floats
    level: Floats
    bouts: list[tuple[float, float]]

    def upsampled(self, values: Floats) -> Floats:
        """Return the values of the grid at each sample."""
        hop = round(FRAME_S * self.rate)
        out: Floats = np.interp(np.arange(self.n) / hop, np.arange(len(values)), values)
        return out

    def gliding(self, corner_hz: float, slope: float = 2.0) -> Floats:
        """Return one unit Gaussian wander on the grid."""
        grid_hz = self.rate / round(FRAME_S * self.rate)
        return np.asarray(modulators(self.rng, 1, len(self.times), grid_hz, corner_hz, slope)[0], dtype=np.float64)


def scene(rng: np.random.Generator, rate: int, drive: Floats) -> Scene:
    """Return the scene of a drive curve; the amplitude follows drive**0.7."""
    n = len(drive) * step_samples(rate)
    hop = round(FRAME_S * rate)
    times = np.arange(n // hop + 2) * hop / rate
    bouts = [(a * CONTROL_S, b * CONTROL_S) for a, b in stretches(drive > 0.0)]
    centres = (np.arange(len(drive)) + 0.5) * CONTROL_S
    on = drive[np.clip((times / CONTROL_S).astype(int), 0, len(drive) - 1)] > 0
    smooth = np.where(on, np.interp(times, centres, drive), 0.0)
    return Scene(rng, rate, n, times, smooth, smooth**0.7, bouts)


def modulators(
    rng: np.random.Generator,
    rows: int,
    frames: int,
    fps: float,
    corner_hz: float,
    slope: float,
    peak_hz: float = 0.0,
    peak_share: float = 0.0,
) -> Floats:
    """Return unit Gaussian rows: power flat to the corner, then falling by ``slope``; part of it round a peak."""
    length = frames + int(2 * fps)
    f = np.fft.rfftfreq(length, 1 / fps)
    body = 1.0 / (1.0 + (f / corner_hz) ** (2 * slope))
    body[0] = 0.0
    power = body / max(body.sum(), 1e-12)
    if peak_hz > 0.0:
        peak = np.exp(-(((f - peak_hz) / (0.15 * peak_hz + 0.1)) ** 2))
        power = (1 - peak_share) * power + peak_share * peak / max(peak.sum(), 1e-12)
    noise = rng.standard_normal((rows, len(f))) + 1j * rng.standard_normal((rows, len(f)))
    out: Floats = np.fft.irfft(noise * np.sqrt(power), length, axis=1) * length / 2.0
    return out[:, :frames]


@dataclass
class Statistics:
    """What tells one texture from another; spans are common practice, no source."""

    centre_hz: float
    rise_db: float
    """Slope below the centre, dB per octave."""
    fall_db: float
    """Slope above it."""
    depth: float = 0.3
    """Spread of the log envelope in nepers."""
    marginal: str = "lognormal"
    corner_hz: float = 5.0
    slope: float = 1.0
    peak_hz: float = 0.0
    peak_share: float = 0.0
    common: float = 0.3
    """Share of the modulation that all bands have in common."""
    delay_s: float = 0.0
    """Delay from the lowest band to the highest (negative: the highest comes first)."""
    follow: float = 0.0
    """Tilt in dB per octave for each 10 dB of level."""
    ripple_db: float = 3.0
    humps: int = 1
    frame_s: float = 0.012
    bands: int = 18


def _marginal(g: Floats, s: Statistics, rng: np.random.Generator) -> Floats:
    """Return the log amplitude (nepers) of unit Gaussian modulators under the drawn marginal."""
    if s.marginal == "sparse":
        threshold = rng.uniform(0.2, 1.4)
        return 5.0 * s.depth / (1.0 + np.exp(-5.0 * (g - threshold))) + 0.3 * s.depth * g
    if s.marginal == "gamma":
        # Wilson-Hilferty: the cube of a shifted Gaussian is close to a gamma variate
        shape = 1.0 / (0.15 + (2.0 * s.depth) ** 2)
        root = 1.0 - 1.0 / (9.0 * shape) + g / (3.0 * np.sqrt(shape))
        return np.asarray(1.5 * np.log(np.maximum(root, 0.03)), dtype=np.float64)
    return s.depth * g


def texture(sc: Scene, s: Statistics, level: Floats, shift: Floats | None = None) -> Floats:
    """Return noise with the statistics; ``level`` and ``shift`` (octaves up) are given on the grid of the scene."""
    rng = sc.rng
    hop = round(s.frame_s * sc.rate / 2)
    frames = sc.n // hop + 2
    fps, at = sc.rate / hop, np.arange(frames) * hop / sc.rate
    loud = np.interp(at, sc.times, level)
    octaves = np.linspace(_LOW_OCTAVE, np.log2(sc.rate / 2), s.bands)
    rows = modulators(rng, s.bands + 1, frames, fps, s.corner_hz, s.slope, s.peak_hz, s.peak_share)
    lag = np.round(np.linspace(0.0, s.delay_s, s.bands) * fps).astype(int)
    shared = rows[-1][(np.arange(frames)[None, :] - lag[:, None]) % frames]
    g = np.sqrt(s.common) * shared + np.sqrt(1 - s.common) * rows[:-1]
    log = _marginal(g, s, rng)
    log -= 0.5 * np.log(np.mean(np.exp(2 * log), axis=1, keepdims=True))
    # heavy tails, but no single frame that drowns all others
    log = np.minimum(log, 1.8)
    move = np.zeros(frames) if shift is None else np.interp(at, sc.times, shift)
    off = octaves[:, None] - np.log2(s.centre_hz) - move[None, :]
    db = np.where(off < 0, s.rise_db * off, -s.fall_db * off)
    for _ in range(s.humps):
        place, width = rng.uniform(-2.5, 2.5), spread(rng, 0.2, 0.9)
        db += rng.uniform(-6.0, 9.0) * np.exp(-(((off - place) / width) ** 2))
    db += s.ripple_db * rng.standard_normal((s.bands, 1))
    loud_db = 20 * np.log10(np.maximum(loud, 0.05)) + 8.7 * s.depth * rows[-1]
    db += s.follow * np.clip(loud_db / 10.0, -1.5, 1.5) * np.clip(off, -4, 4)
    log += db * (np.log(10) / 20)
    return _filtered_noise(sc, (log + np.log(np.maximum(loud, 1e-9))).T, octaves, hop)


def _filtered_noise(sc: Scene, log: Floats, octaves: Floats, hop: int) -> Floats:
    """Return white noise whose short spectra are weighted by the log gains (frames, bands), overlapped and added."""
    from scipy.fft import irfft, rfft

    f = np.log2(np.maximum(np.fft.rfftfreq(2 * hop, 1 / sc.rate), 2.0**_LOW_OCTAVE))
    place = np.clip((f - octaves[0]) / (octaves[1] - octaves[0]), 0, len(octaves) - 1)
    hats = np.maximum(0.0, 1.0 - np.abs(place[None, :] - np.arange(len(octaves))[:, None])).astype(np.float32)
    gains = np.exp(log.astype(np.float32) @ hats)
    # a band's level is its spectrum's: equal gains must not let the bin at 0 Hz through
    gains[:, 0] = 0.0
    white = sc.rng.standard_normal((len(log) + 1, hop), dtype=np.float32)
    window = np.sin(np.pi * (np.arange(2 * hop) + 0.5) / (2 * hop)).astype(np.float32)
    spectra = rfft(np.concatenate((white[:-1], white[1:]), axis=1) * window, axis=1)
    parts = irfft(spectra * gains, 2 * hop, axis=1) * window
    out = parts[:, :hop].copy()
    out[1:] += parts[:-1, hop:]
    return np.asarray(out.ravel()[: sc.n], dtype=np.float64)


def events(sc: Scene, rate: Floats, regularity: float = 1.0) -> Floats:
    """Return event times (s) of an inhomogeneous renewal process; ``regularity`` 1 is Poisson, large is even."""
    total = np.concatenate(([0.0], np.cumsum(0.5 * (rate[1:] + rate[:-1])) * (sc.times[1] - sc.times[0])))
    count = int(min(total[-1] * 1.3 + 30, 600.0 * max(sc.times[-1], 1.0)))
    ticks = np.cumsum(sc.rng.gamma(regularity, 1.0 / regularity, count)) - sc.rng.random()
    ticks = ticks[(ticks > 0) & (ticks < total[-1])]
    # an idle span does not move the count on: a tiny slope keeps the inverse single-valued
    out: Floats = np.interp(ticks, total + 1e-9 * np.arange(len(total)), sc.times)
    return out[out < sc.n / sc.rate - 1e-3]


@dataclass
class Marks:
    """How the grains of a point process are drawn."""

    centre_hz: float
    spread_octaves: float
    quality: float
    """Ringing cycles to decay by e, times pi: damped tones have 4-60, knocks 1-3."""
    loud_sd: float = 0.6
    chirp: float = 0.1
    """Relative rise of the tone over its decay."""
    noise: float = 0.0
    """Share of noise in the grain."""
    attack_s: float = 0.0005
    size_slope: float = 0.5
    """How much louder the low (large) ones are: amplitude per octave down is 2**slope."""


def grains(sc: Scene, times: Floats, m: Marks, shapes: int = 28) -> Floats:
    """Return grains of a few dozen shapes at the times, each under its own log-normal loudness and the level."""
    rng = sc.rng
    # long grains that overlap wholly cannot be told apart: a bound on the samples keeps the cost down
    most = int(5e6 / (sc.rate * (4.5 * min(m.quality / (np.pi * m.centre_hz), 0.06) + m.attack_s)))
    times = times if len(times) <= most else np.sort(rng.choice(times, most, replace=False))
    at = (times * sc.rate).astype(np.int64)
    kinds = rng.integers(shapes, size=len(at))
    louds = np.exp(m.loud_sd * np.clip(rng.standard_normal(len(at)), -3.0, 1.8)) * np.interp(times, sc.times, sc.level)
    size = sc.n + sc.rate // 2
    index, weight = [np.zeros(0, np.int64)], [np.zeros(0)]
    for k in range(shapes):
        mine = kinds == k
        octave = float(np.clip(rng.standard_normal(), -2.5, 2.5)) * m.spread_octaves
        grain = _grain(rng, sc.rate, min(m.centre_hz * 2.0**octave, 0.42 * sc.rate), m)
        amps = louds[mine] * 2.0 ** (-octave * m.size_slope)
        index.append((at[mine][:, None] + np.arange(len(grain))).ravel())
        weight.append((amps[:, None] * grain).ravel())
    laid = np.bincount(np.concatenate(index), np.concatenate(weight), minlength=size)
    return np.asarray(laid[: sc.n], dtype=np.float64)


def _grain(rng: np.random.Generator, rate: int, hz: float, m: Marks) -> Floats:
    """Return one damped chirp or noise burst of at most a quarter of a second."""
    decay = float(np.clip(m.quality * spread(rng, 0.6, 1.6) / (np.pi * hz), 0.0004, 0.06))
    t = np.arange(int(min(4.5 * decay + m.attack_s, 0.25) * rate) + 8) / rate
    chirp = m.chirp * spread(rng, 0.3, 2.0)
    tone = np.sin(2 * np.pi * hz * t * (1 + chirp * np.minimum(t / decay, 3.0) / 2) + rng.uniform(0, 2 * np.pi))
    # straight lines between random points: noise up to about the pitch of the grain
    points = rng.standard_normal(int(2.5 * hz * t[-1]) + 3)
    wave = (1 - m.noise) * tone + 1.5 * m.noise * np.interp(2.5 * hz * t, np.arange(len(points)), points)
    out: Floats = wave * np.exp(-t / decay) * -np.expm1(-t / max(m.attack_s, 1e-4))
    return out * np.linspace(1, 0, len(t)) ** 0.3


def rough(sc: Scene, hz: Floats | float, depth: float, sharp: float, jitter: float) -> Floats:
    """Return a pulsing gain of mean power about 1 at a rate that jitters: a rasp when sharp, a flutter when not."""
    wander = np.exp(jitter * sc.gliding(12.0, 1.0))
    phase = np.cumsum(sc.upsampled(np.asarray(hz) * wander)) / sc.rate
    cycle = np.floor(phase).astype(np.int64)
    loud = np.exp(1.5 * jitter * np.clip(sc.rng.standard_normal(int(cycle[-1]) + 2), -3, 1.8))
    table = np.exp(sharp * (np.cos(2 * np.pi * np.arange(2048) / 2048) - 1.0))
    pulse = table[((phase - cycle + 0.5) * 2048).astype(np.int64) % 2048] * loud[cycle]
    gain = 1 - depth + depth * pulse
    out: Floats = gain / np.sqrt(np.mean(gain**2) + 1e-12)
    return out


def lines(sc: Scene, hz: Floats | float, amps: Floats) -> Floats:
    """Return a harmonic series on a (gliding) fundamental: ``amps[k]`` belongs to harmonic k + 1."""
    top = int(0.47 * sc.rate / max(float(np.max(hz)), 1.0))
    kept = amps[: max(top, 1)]
    bins = np.zeros(2049, dtype=np.complex128)
    count = min(len(kept), 400)
    bins[1 : count + 1] = kept[:count] * np.exp(2j * np.pi * sc.rng.random(count))
    table = np.fft.irfft(bins, 4096) * 2048
    phase = np.cumsum(sc.upsampled(np.asarray(hz) * np.ones(len(sc.times)))) / sc.rate
    out: Floats = table[(phase * 4096).astype(np.int64) % 4096]
    return out


def resonate(sc: Scene, sound: Floats, peaks: list[tuple[float, float, float]], dry: float) -> Floats:
    """Return the sound through resonators of (Hz, quality, gain), beside a share of itself."""
    from scipy.signal import iirpeak, lfilter

    out = dry * sound
    for hz, quality, gain in peaks:
        b, a = iirpeak(min(hz, 0.45 * sc.rate), max(quality, 0.5), fs=sc.rate)
        out = out + gain * np.sqrt(quality) * lfilter(b, a, sound)
    return out


def unit(sound: Floats) -> Floats:
    """Return the sound at unit power while it lasts (its silent samples do not count)."""
    heard = np.abs(sound) > 1e-9
    power = float(np.sum(sound**2)) / max(int(heard.sum()), 1)
    return sound / np.sqrt(power) if power > 0.0 else sound


def mixed(rng: np.random.Generator, parts: list[tuple[Floats, float, float]]) -> Floats:
    """Return the parts at unit power, each under a gain drawn between its two (amplitudes)."""
    out = np.zeros(len(parts[0][0]))
    for part, low, high in parts:
        out += spread(rng, low, high) * unit(part)
    return out


Peak = tuple[float, float, float]


def peaks(sc: Scene, low: float, high: float, quality: tuple[float, float], most: int) -> list[Peak]:
    """Return random resonances (Hz, quality, gain)."""
    rng, count = sc.rng, int(sc.rng.integers(2, most + 1))
    return [(spread(rng, low, high), spread(rng, *quality), spread(rng, 0.2, 1.0)) for _ in range(count)]


def _series(rng: np.random.Generator, count: int, fall: float, sd: float) -> Floats:
    """Return amplitudes of harmonics: a power law with log-normal scatter."""
    harmonics = np.arange(1, count + 1, dtype=np.float64)
    return np.asarray(harmonics**-fall * np.exp(sd * rng.standard_normal(count)), dtype=np.float64)


def _tones(sc: Scene, hz: float) -> Floats:
    """Return a line series at ``hz`` with slow wander and the sidebands of a drawn modulation."""
    rng = sc.rng
    glide = hz * (1.0 + spread(rng, 1e-5, 5e-3) * sc.gliding(0.5))
    amps = _series(rng, int(rng.integers(3, 60)), rng.uniform(0.3, 2.5), rng.uniform(0.2, 1.3))
    if rng.random() < 0.3:
        amps[::2] *= 0.1
    depth = rng.choice([0, rng.uniform(0, 0.8)])
    beat = depth * np.cos(2 * np.pi * spread(rng, 0.1, 30) * sc.times + rng.uniform(0, 6))
    return lines(sc, glide, amps) * sc.upsampled((1 + beat + rng.uniform(0, 0.2) * sc.gliding(2.0)) * sc.level)


def _noise(sc: Scene, low: float, high: float) -> Floats:
    """Return steady noise of a drawn colour."""
    rng = sc.rng
    s = Statistics(spread(rng, low, high), rng.uniform(0, 8), rng.uniform(2, 9), rng.uniform(0.03, 0.3))
    return texture(sc, replace(s, humps=int(rng.integers(0, 5)), corner_hz=spread(rng, 0.5, 20)), sc.level)


def hum(sc: Scene, mains_hz: float) -> Floats:
    """Mains lines (twice the mains leads), shaft and blades with noise that pulses with them, or two that beat."""
    rng = sc.rng
    slip = 1.0 - rng.choice([0.0, rng.uniform(0, 0.08)])
    shaft = float(rng.choice([mains_hz * slip, mains_hz * slip / 2, spread(rng, 18, 120)]))
    how = int(rng.integers(4))
    first = _tones(sc, (2 * mains_hz, shaft, 2 * mains_hz, mains_hz)[how])
    blades = _tones(sc, shaft * int(rng.integers(2, 9)))
    other = _tones(sc, (2 * mains_hz if how == 0 else shaft) * (1 + rng.choice([-1, 1]) * spread(rng, 5e-4, 0.03)))
    pulsing = _noise(sc, 150, 4000) * rough(sc, shaft, rng.uniform(0, 0.8), spread(rng, 0.3, 3), 0.005)
    gains = [(0.02, 0.3), (0.2, 1.0), (0.01, 0.2), (0.02, 0.6)][how]
    both = [(0.01, 0.1), (0.01, 0.2), (0.5, 1.0), (0.05, 0.5)][how]
    return mixed(rng, [(first, 1, 1), (blades, *gains), (other, *both), (pulsing, 0.01, 0.3)])


def rattle(sc: Scene, mains_hz: float) -> Floats:
    """Jittered knocks, noise that chatters cyclically or a clipped buzz, through random resonators."""
    rng = sc.rng
    hz = float(rng.choice([mains_hz / 2, mains_hz, 2 * mains_hz, spread(rng, 4, 70)]))
    how = int(rng.integers(4))
    marks = Marks(spread(rng, 250, 5000), rng.uniform(0.1, 1.0), spread(rng, 2, 40), rng.uniform(0.05, 0.8), 0.0,
                  rng.uniform(0, 0.8), 1e-4)  # fmt: skip
    if how == 0:
        made = grains(sc, events(sc, np.where(sc.level > 0, hz, 0.0), spread(rng, 30, 3000)), marks)
    elif how == 1:
        made = _noise(sc, 400, 5000) * rough(sc, hz, rng.uniform(0.8, 1), spread(rng, 3, 40), spread(rng, 0.003, 0.15))
    elif how == 2:
        tone = lines(sc, hz * (1 + 2e-3 * sc.gliding(1.0)), _series(rng, 6, 1.0, 0.5))
        contact = np.maximum(tone / (np.std(tone) + 1e-9) - rng.uniform(0, 1.3) + 0.1 * sc.upsampled(sc.gliding(8)), 0)
        made = np.diff(np.minimum(contact, rng.uniform(0.1, 1)), prepend=0.0) * sc.upsampled(sc.level)
    else:
        # loose parts: flurries of knocks that come and go, several to a turn
        flurry = np.exp(rng.uniform(0.5, 1.5) * sc.gliding(spread(rng, 0.5, 5)))
        rate = np.where(sc.level > 0, spread(rng, 15, 120) * flurry, 0.0)
        made = grains(sc, events(sc, rate, spread(rng, 1, 6)), marks)
    panel = resonate(sc, made, peaks(sc, 150, 6000, (2, 40), 6), rng.uniform(0.1, 1.5))
    chatter = 1 + rng.uniform(0, 0.6) * np.tanh(sc.gliding(spread(rng, 0.3, 6)))
    bed = _tones(sc, float(rng.choice([mains_hz, 2 * mains_hz, hz])))
    return mixed(rng, [(panel * sc.upsampled(chatter), 1, 1), (bed, 0.01, 0.5), (_noise(sc, 200, 4000), 0.01, 0.2)])


def _room_part(sc: Scene, sort: int) -> Floats:
    """Return one of: ventilation, traffic, wind, compressor, fan, the microphone's noise, electronics, radiator."""
    rng, mains = sc.rng, float(sc.rng.choice([50.0, 60.0]))
    s = Statistics(spread(rng, 60, 600), rng.uniform(0, 6), rng.uniform(3, 12), rng.uniform(0.02, 0.15), frame_s=0.04)
    if sort == 0:
        return texture(sc, s, sc.level) * rough(sc, spread(rng, 1, 12), rng.uniform(0, 0.3), 0.5, 0.3)
    if sort in (1, 2):
        slow = replace(s, centre_hz=spread(rng, 40, 300), corner_hz=1.0, common=0.9, follow=rng.uniform(0, 2))
        swell = rng.uniform(0.3, 1.0) * sc.gliding((0.1, 0.6)[sort - 1], 2.0)
        return texture(sc, slow, np.exp(swell), (0.0, 0.5)[sort - 1] * swell)
    if sort in (3, 4):
        air = texture(sc, replace(s, centre_hz=spread(rng, 150, 1200)), sc.level)
        tone = _tones(sc, mains if sort == 3 else spread(rng, 20, 300))
        return mixed(rng, [(air, 1, 1), (tone, 0.05, 1.0)])
    if sort == 5:
        fall = float(rng.choice([-3.0, 0.0, 0.0, 3.0]))
        return texture(sc, Statistics(31.0, 0, fall, 0.01, humps=0, ripple_db=0.3), sc.level)
    if sort == 6:
        return mixed(rng, [(_tones(sc, mains), 1, 1), (texture(sc, s, sc.level), 0.1, 1)])
    return texture(sc, replace(s, centre_hz=spread(rng, 400, 4000), fall_db=rng.uniform(3, 8)), sc.level)


def room(rng: np.random.Generator, sample_rate: int, n: int) -> Floats:
    """Return ``n`` samples of a quiet home at rest, one to three sorts at once over the microphone's own noise."""
    steps = -(-n // step_samples(sample_rate)) + 1
    sc = scene(rng, sample_rate, np.ones(steps))
    sorts = rng.choice(8, int(rng.integers(1, 4)), replace=False)
    parts = [(_room_part(sc, int(sort)), 0.1, 1.0) for sort in sorts]
    return mixed(rng, [*parts, (_room_part(sc, 5), 0.003, 0.3)])[:n]
