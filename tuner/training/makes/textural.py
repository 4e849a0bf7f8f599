"""The nine kinds of sound and rooms at rest as statistical textures.

A sound is noise in subbands under envelopes with drawn statistics (depth, sparseness, modulation spectrum, common and
separate movement, tilt that follows the level), plus bursts of noise and tone as point processes; pumps are line
spectra, cyclostationary noise and jittered pulses through random resonators. Kinds differ by the spans of these
statistics, which are common practice without a source unless one is named.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from tuner.rehearsal.voices.control import checked_drive, step_samples
from tuner.terms import SoundKind
from tuner.training.makes.textural_parts import (
    Floats,
    Marks,
    Scene,
    Statistics,
    events,
    grains,
    hum,
    mixed,
    peaks,
    rattle,
    resonate,
    room,
    rough,
    scene,
    spread,
    texture,
)

__all__ = ["room", "sound"]

Method = Callable[[Scene], Floats]


def minnaert_hz(radius_mm: float) -> float:
    """Return the tone of a bubble in water: Minnaert's f = 3.28 kHz / r(mm).

    >>> minnaert_hz(2.0)
    1640.0
    """
    return 3280.0 / radius_mm


def _statistics(sc: Scene, centre: tuple[float, float], rise: tuple[float, float], fall: tuple[float, float],
                depth: tuple[float, float], corner: tuple[float, float]) -> Statistics:  # fmt: skip
    """Return statistics drawn in the spans; what no kind owns is drawn alike for all."""
    rng = sc.rng
    return Statistics(
        centre_hz=spread(rng, *centre),
        rise_db=rng.uniform(*rise),
        fall_db=rng.uniform(*fall),
        depth=spread(rng, *depth),
        marginal=str(rng.choice(["lognormal", "gamma", "sparse"], p=[0.5, 0.3, 0.2])),
        corner_hz=spread(rng, *corner),
        slope=rng.uniform(0.5, 2.0),
        peak_hz=spread(rng, 2.0, 40.0),
        peak_share=float(rng.choice([0.0, rng.uniform(0.1, 0.7)])),
        common=rng.beta(0.7, 0.7),
        delay_s=rng.uniform(-0.06, 0.06),
        follow=rng.uniform(-0.5, 2.0),
        ripple_db=rng.uniform(0.3, 4.0),
        humps=int(rng.integers(0, 5)),
        frame_s=spread(rng, 0.008, 0.025),
        bands=int(rng.integers(12, 25)),
    )


def _pulsed(sc: Scene, times: Floats, attack_s: float, decay_s: float, floor: float) -> Floats:
    """Return an envelope on the grid that swells and falls at each time, about 1 at its heights."""
    step = sc.times[1] - sc.times[0]
    hits = np.bincount((times / step).astype(int), _loudnesses(sc, len(times)), minlength=len(sc.times))
    t = np.arange(int((attack_s + 5 * decay_s) / step) + 2) * step
    kernel = np.where(t < attack_s, np.sin(0.5 * np.pi * t / max(attack_s, step)) ** 2,
                      np.exp(-np.maximum(t - attack_s, 0) / decay_s))  # fmt: skip
    out: Floats = floor + (1 - floor) * np.minimum(np.convolve(hits, kernel)[: len(sc.times)], 2.5)
    return out


def _loudnesses(sc: Scene, count: int) -> Floats:
    """Return log-normal loudnesses with a drawn spread."""
    return np.exp(sc.rng.uniform(0.05, 0.8) * sc.rng.standard_normal(count))


def _drawn_rate(sc: Scene, low: float, high: float) -> Floats:
    """Return an event rate on the grid that grows with the drive, bursts and pauses by a drawn share."""
    rng = sc.rng
    base = spread(rng, low, high) * sc.drive ** rng.uniform(0.2, 0.8)
    restless = rng.uniform(0.0, 1.2)
    walk = np.exp(restless * sc.gliding(spread(rng, 0.3, 4.0)) - 0.5 * restless**2)
    return np.where(sc.drive > 0, base * walk, 0.0)


def _bubbles(sc: Scene, radius_mm: tuple[float, float], rate: tuple[float, float]) -> Floats:
    """Return a cloud of bubble notes whose typical radius is drawn."""
    rng = sc.rng
    marks = Marks(minnaert_hz(spread(rng, *radius_mm)), rng.uniform(0.15, 0.8), spread(rng, 5, 45),
                  rng.uniform(0.2, 1.0), rng.uniform(0.0, 0.5), rng.uniform(0.0, 0.25), spread(rng, 3e-4, 5e-3),
                  rng.uniform(0.0, 1.0))  # fmt: skip
    return grains(sc, events(sc, _drawn_rate(sc, *rate), spread(rng, 0.4, 4)), marks)


def _position(sc: Scene) -> tuple[Floats, Floats, Floats]:
    """Return for each grid point the share of its bout gone by, the seconds since its start and those left."""
    share, since, left = np.zeros(len(sc.times)), np.full(len(sc.times), 9.0), np.full(len(sc.times), 9.0)
    for start, end in sc.bouts:
        inside = (sc.times >= start) & (sc.times < end)
        since[inside], left[inside] = sc.times[inside] - start, end - sc.times[inside]
        share[inside] = since[inside] / (end - start)
    return share, since, left


# gurgle


def _gurgle_notes(sc: Scene) -> Floats:
    big = _bubbles(sc, (4, 30), (2, 30))
    s = _statistics(sc, (100, 900), (2, 8), (6, 13), (0.3, 1.3), (2, 12))
    small = _bubbles(sc, (2, 8), (3, 60))
    return mixed(sc.rng, [(big, 1, 1), (small, 0.03, 0.5), (texture(sc, s, sc.level), 0.03, 0.7)])


def _gurgle_swells(sc: Scene) -> Floats:
    rng = sc.rng
    glug = _pulsed(sc, events(sc, _drawn_rate(sc, 1.5, 9), spread(rng, 1, 8)), spread(rng, 0.01, 0.08),
                   spread(rng, 0.02, 0.15), rng.uniform(0, 0.2))  # fmt: skip
    s = _statistics(sc, (150, 1000), (3, 10), (6, 13), (0.3, 1.2), (5, 30))
    s.common = rng.uniform(0.5, 1.0)
    body = texture(sc, s, sc.level * glug, rng.uniform(-0.5, 1.2) * glug)
    flutter = rough(sc, spread(rng, 12, 45), rng.uniform(0, 0.9), spread(rng, 0.7, 6), rng.uniform(0.05, 0.4))
    return mixed(rng, [(body * flutter, 1, 1), (_bubbles(sc, (3, 20), (3, 40)), 0.1, 1.2)])


def _gurgle_pipe(sc: Scene) -> Floats:
    """Pulses of air and sparse noise through the resonances of a pipe."""
    rng = sc.rng
    knock = Marks(spread(rng, 150, 900), 0.5, spread(rng, 1, 4), 0.6, 0.3, rng.uniform(0, 0.7), 0.003)
    air = grains(sc, events(sc, _drawn_rate(sc, 4, 40), spread(rng, 0.5, 3)), knock)
    s = _statistics(sc, (150, 1200), (2, 8), (5, 12), (0.6, 1.6), (3, 15))
    s.marginal = "sparse"
    source = mixed(rng, [(air, 1, 1), (texture(sc, s, sc.level), 0.1, 1.0)])
    return resonate(sc, source, peaks(sc, 90, 1100, (3, 25), 5), rng.uniform(0.05, 0.6))


# slurp


def _gulping(sc: Scene) -> Floats:
    """Return the gulps of each bout: one long draw, or several that speed up or slow down, and a last gasp."""
    rng = sc.rng
    share, since, left = _position(sc)
    if rng.random() < 0.3:
        gate = np.minimum(1.0, since / spread(rng, 0.03, 0.4)) * (1.0 + rng.uniform(-0.5, 1.0) * (share - 0.5))
    else:
        rate = np.where(sc.drive > 0, spread(rng, 0.8, 8) * np.exp(rng.uniform(-0.8, 0.8) * (2 * share - 1)), 0.0)
        starts = np.array([a for a, _ in sc.bouts])
        times = np.concatenate((starts, events(sc, rate, spread(rng, 1.5, 20))))
        gate = _pulsed(sc, times, spread(rng, 0.02, 0.2), spread(rng, 0.04, 0.3), rng.uniform(0, 0.4))
    gasp = np.exp(-(((left - spread(rng, 0.1, 0.3)) / 0.12) ** 2)) * rng.choice([0.0, rng.uniform(0.3, 1.5)])
    out: Floats = (gate + gasp) * (sc.drive > 0)
    return out


def _slurp(sc: Scene, rasping: tuple[float, float], bubbly: tuple[float, float], centre: tuple[float, float]) -> Floats:
    """Return gulps of noise that rasps, moves in pitch with the draw and carries bubbles by a drawn share."""
    rng = sc.rng
    share, _, _ = _position(sc)
    gate = _gulping(sc)
    s = _statistics(sc, centre, (2, 12), (3, 11), (0.15, 1.2), (4, 40))
    move = rng.uniform(-1.5, 1.5) * (share - 0.5) + rng.uniform(-0.6, 1.0) * (gate - 0.5) + 0.2 * sc.gliding(3.0)
    hz = spread(rng, 14, 160) * 2.0 ** (rng.uniform(-1, 1) * (share - 0.5) + rng.uniform(-0.3, 0.8) * gate)
    rasp = rough(sc, hz, rng.uniform(*rasping), spread(rng, 0.8, 12), spread(rng, 0.03, 0.5))
    breath = texture(sc, s, sc.level * gate, np.clip(move, -1.2, 1.2)) * rasp
    if rng.random() < 0.5:
        breath = resonate(sc, breath, peaks(sc, 200, 3500, (2, 15), 4), rng.uniform(0.2, 1.0))
    gated = sc.upsampled(0.15 + 0.85 * gate)
    drops = _bubbles(sc, (0.7, 15), (10, 250)) * gated
    return mixed(rng, [(breath, 1, 1), (drops, *bubbly)])


def _slurp_rasp(sc: Scene) -> Floats:
    return _slurp(sc, (0.6, 1.0), (0.02, 0.3), (250, 2500))


def _slurp_dry(sc: Scene) -> Floats:
    return _slurp(sc, (0.0, 0.6), (0.01, 0.1), (600, 4000))


def _slurp_wet(sc: Scene) -> Floats:
    return _slurp(sc, (0.0, 0.9), (0.5, 3.0), (200, 2500))


def _slurp_snore(sc: Scene) -> Floats:
    """Jittered pulses of air through the resonances of the inlet, as a snore is."""
    rng = sc.rng
    gate = _gulping(sc)
    share, _, _ = _position(sc)
    rate = np.where(sc.drive > 0, spread(rng, 18, 130) * 2.0 ** (rng.uniform(-1.2, 1.2) * (share - 0.5)), 0.0)
    marks = Marks(spread(rng, 300, 3500), rng.uniform(0.2, 1.0), spread(rng, 1, 7), rng.uniform(0.2, 1.0),
                  rng.uniform(0, 0.5), rng.uniform(0.1, 0.9), spread(rng, 2e-4, 3e-3))  # fmt: skip
    pulses = grains(sc, events(sc, rate, spread(rng, 1, 30)), marks) * sc.upsampled(gate)
    voiced = resonate(sc, pulses, peaks(sc, 150, 3000, (2, 12), 5), rng.uniform(0.1, 1.0))
    s = _statistics(sc, (400, 4000), (2, 8), (2, 9), (0.2, 0.9), (5, 40))
    return mixed(rng, [(voiced, 1, 1), (texture(sc, s, sc.level * gate), 0.05, 0.8)])


# trickle, splash, hiss


def _trickle_bubbles(sc: Scene) -> Floats:
    s = _statistics(sc, (2500, 8000), (4, 12), (4, 10), (0.2, 0.8), (5, 40))
    return mixed(sc.rng, [(_bubbles(sc, (0.35, 1.3), (40, 450)), 1, 1), (texture(sc, s, sc.level), 0.02, 0.5)])


def _trickle_bands(sc: Scene) -> Floats:
    """Bright bands that sparkle each on its own."""
    s = _statistics(sc, (2500, 7500), (5, 12), (4, 10), (0.5, 1.4), (15, 60))
    s.common, s.bands, s.frame_s = sc.rng.uniform(0, 0.25), 24, 0.008
    return mixed(sc.rng, [(texture(sc, s, sc.level), 1, 1), (_bubbles(sc, (0.4, 1.6), (20, 200)), 0.1, 1.0)])


def _trickle_drips(sc: Scene) -> Floats:
    """A few nearly regular strings of drops, each with its own note, and the tick of their impacts."""
    rng = sc.rng
    parts: list[tuple[Floats, float, float]] = []
    for _ in range(int(rng.integers(2, 6))):
        times = events(sc, _drawn_rate(sc, 8, 60), spread(rng, 1, 20))
        radius = spread(rng, 0.4, 1.5)
        note = Marks(minnaert_hz(radius), rng.uniform(0.03, 0.3), spread(rng, 8, 50), rng.uniform(0.1, 0.7), 0.15)
        tick = Marks(spread(rng, 3000, 7000), 0.4, 2.0, 0.5, 0.0, 0.8, 1e-4)
        parts += [(grains(sc, times, note, 8), 0.4, 1.0), (grains(sc, times, tick, 8), 0.05, 0.5)]
    return mixed(rng, parts)


def _splash_rush(sc: Scene) -> Floats:
    s = _statistics(sc, (500, 4000), (1.5, 7), (3, 9), (0.15, 0.8), (3, 40))
    return mixed(sc.rng, [(texture(sc, s, sc.level), 1, 1), (_bubbles(sc, (0.6, 7), (40, 400)), 0.1, 1.2)])


def _splash_patter(sc: Scene) -> Floats:
    """Dense bursts of noise, heavy-tailed in loudness."""
    rng = sc.rng
    marks = Marks(spread(rng, 600, 4000), rng.uniform(0.4, 1.2), spread(rng, 3, 40), rng.uniform(0.5, 1.3), 0.2,
                  rng.uniform(0.5, 1.0), spread(rng, 2e-4, 6e-3), rng.uniform(0, 0.8))  # fmt: skip
    bursts = grains(sc, events(sc, _drawn_rate(sc, 30, 400), spread(rng, 0.4, 2)), marks)
    s = _statistics(sc, (500, 3500), (1.5, 6), (3, 9), (0.1, 0.6), (3, 30))
    bubbles = _bubbles(sc, (1, 8), (10, 150))
    return mixed(rng, [(bursts, 1, 1), (texture(sc, s, sc.level), 0.2, 1.5), (bubbles, 0.05, 0.8)])


def _splash_plunges(sc: Scene) -> Floats:
    """Lapping and slaps: swells of noise, bright first, with the bubbles they drag in a little later."""
    rng = sc.rng
    times = events(sc, _drawn_rate(sc, 1.5, 14), spread(rng, 0.6, 5))
    swell = _pulsed(sc, times, spread(rng, 0.005, 0.06), spread(rng, 0.04, 0.3), rng.uniform(0.15, 0.6))
    s = _statistics(sc, (500, 3000), (1.5, 6), (3, 9), (0.15, 0.8), (5, 40))
    late = np.roll(swell, int(rng.integers(2, 30)))
    bubbles = _bubbles(sc, (0.8, 9), (30, 300)) * sc.upsampled(late)
    water = texture(sc, s, sc.level * swell, rng.uniform(0, 1.2) * (swell - 0.5))
    return mixed(rng, [(water, 1, 1), (bubbles, 0.15, 1.2)])


def _hiss_even(sc: Scene) -> Floats:
    s = _statistics(sc, (3000, 11000), (3, 10), (0, 8), (0.02, 0.12), (0.3, 20))
    s.marginal = "lognormal"
    return texture(sc, s, sc.level, 0.15 * sc.rng.random() * sc.gliding(1.0))


def _hiss_resonant(sc: Scene) -> Floats:
    """A rush with the humps of a small cavity."""
    tones = peaks(sc, 2200, 9000, (3, 18), 4)
    return resonate(sc, _hiss_even(sc), tones, sc.rng.uniform(0.3, 1.5))


def _hiss_flutter(sc: Scene) -> Floats:
    rng = sc.rng
    flutter = rough(sc, spread(rng, 6, 90), rng.uniform(0.1, 0.5), spread(rng, 0.3, 1.5), rng.uniform(0.05, 0.4))
    return _hiss_even(sc) * flutter


# flush and roar


def _flush(sc: Scene, pitch: tuple[float, float], bubbly: tuple[float, float], rattly: tuple[float, float]) -> Floats:
    """Return per bout a rise, a roar and a gasp of falling rate, each over drawn shares of the bout."""
    rng = sc.rng
    share, _, left = _position(sc)
    rise = np.clip(share / rng.uniform(0.1, 0.6), 0.02, 1.0) ** rng.uniform(0.5, 2.5)
    s = _statistics(sc, (200, 1800), (1, 8), (4, 10), (0.1, 0.7), (2, 25))
    roar = texture(sc, s, sc.level * rise, rng.uniform(*pitch) * rise)
    near = np.exp(-left / spread(rng, 0.15, 1.0)) * (sc.drive > 0)
    hz = spread(rng, 8, 60) * 2.0 ** (rng.uniform(-1.5, 1.0) * near)
    rasp = rough(sc, hz, rng.uniform(0.5, 1.0), spread(rng, 1, 10), rng.uniform(0.05, 0.5))
    g = _statistics(sc, (350, 3500), (2, 9), (3, 10), (0.3, 1.2), (4, 40))
    # the gasp outlasts the drive: air goes on through the broken siphon for a part of a second
    tail = np.zeros(len(sc.times))
    for _, end in sc.bouts:
        after = sc.times - end
        tail += np.where((after >= 0) & (after < 1.0), np.exp(-np.maximum(after, 0) / spread(rng, 0.03, 0.3)), 0.0)
    gasp = texture(sc, g, near * sc.level + tail, rng.uniform(-1, 1) * near) * rasp
    cloud = _bubbles(sc, (1, 16), (20, 250)) * sc.upsampled(0.1 + rise)
    return mixed(rng, [(roar, 1, 1), (gasp, *rattly), (cloud, *bubbly)])


def _flush_rush(sc: Scene) -> Floats:
    return _flush(sc, (-0.5, 1.5), (0.03, 0.4), (0.3, 1.2))


def _flush_gargle(sc: Scene) -> Floats:
    return _flush(sc, (-0.5, 0.8), (0.5, 2.0), (0.6, 2.0))


def _flush_pipe(sc: Scene) -> Floats:
    """A flush heard through its pipe: standing resonances, and a swirl of slow roughness."""
    rng = sc.rng
    swirl = rough(sc, spread(rng, 1.5, 14), rng.uniform(0.1, 0.7), spread(rng, 0.3, 2), 0.3)
    sound_ = _flush(sc, (-1.0, 1.0), (0.05, 0.8), (0.2, 1.5)) * swirl
    return resonate(sc, sound_, peaks(sc, 80, 1500, (3, 20), 5), rng.uniform(0.2, 1.0))


def _roar_broad(sc: Scene) -> Floats:
    s = _statistics(sc, (80, 700), (0, 6), (3.5, 9), (0.05, 0.35), (0.5, 30))
    s.frame_s = spread(sc.rng, 0.015, 0.05)
    return mixed(sc.rng, [(texture(sc, s, sc.level), 1, 1), (_bubbles(sc, (2, 12), (20, 150)), 0.02, 0.4)])


def _roar_thumps(sc: Scene) -> Floats:
    """A roar in which lumps of water land."""
    rng = sc.rng
    marks = Marks(spread(rng, 60, 350), 0.5, spread(rng, 1.5, 9), 0.7, 0.1, rng.uniform(0.1, 0.7), 0.004)
    lumps = grains(sc, events(sc, _drawn_rate(sc, 8, 90), spread(rng, 0.5, 2)), marks)
    return mixed(rng, [(_roar_broad(sc), 1, 1), (lumps, 0.2, 1.2)])


def _roar_tumbling(sc: Scene) -> Floats:
    """Two layers, low and middle, that move apart from each other, through the hollow of a pipe or cabinet."""
    rng = sc.rng
    s = _statistics(sc, (250, 1500), (1, 5), (4, 9), (0.1, 0.5), (2, 30))
    tumble = rough(sc, spread(rng, 2, 25), rng.uniform(0.05, 0.5), spread(rng, 0.3, 2), 0.4)
    both = mixed(rng, [(_roar_broad(sc), 1, 1), (texture(sc, s, sc.level) * tumble, 0.1, 0.7)])
    return resonate(sc, both, peaks(sc, 60, 900, (1.5, 12), 4), rng.uniform(0.4, 1.5))


_METHODS: dict[SoundKind, list[Method]] = {
    "gurgle": [_gurgle_notes, _gurgle_swells, _gurgle_pipe],
    "slurp": [_slurp_rasp, _slurp_dry, _slurp_wet, _slurp_snore],
    "trickle": [_trickle_bubbles, _trickle_bands, _trickle_drips],
    "splash": [_splash_rush, _splash_patter, _splash_plunges],
    "hiss": [_hiss_even, _hiss_resonant, _hiss_flutter],
    "flush": [_flush_rush, _flush_gargle, _flush_pipe],
    "roar": [_roar_broad, _roar_thumps, _roar_tumbling],
}


def _mask(drive: Floats, step: int, tail_steps: int) -> Floats:
    """Return 1 while driven, falling to 0 over the tail after it, 0 elsewhere."""
    since = np.arange(len(drive)) - np.maximum.accumulate(np.where(drive > 0, np.arange(len(drive)), -1000))
    steps = np.clip(1.0 - since / tail_steps, 0.0, 1.0)
    edge = np.concatenate((steps[:1], steps))
    # a fall glides; a start is at once, so that nothing sounds before it
    share = np.arange(step) / step
    out: Floats = (np.maximum(edge[:-1], steps)[:, None] * (1 - share) + steps[:, None] * share).ravel()
    out *= np.repeat(steps, step) > 0
    starts = np.flatnonzero((steps == 1) & (edge[:-1] == 0)) if len(steps) else np.zeros(0, np.int64)
    fade = np.arange(step // 10)
    out[(starts[:, None] * step + fade).ravel()] *= np.tile(fade / len(fade), len(starts))
    return out


def sound(
    kind: SoundKind, rng: np.random.Generator, sample_rate: int, drive: NDArray[np.float64], mains_hz: float
) -> NDArray[np.float64]:
    """Return a new instance of the kind, unscaled pressure for each drive step; see the module for how."""
    steps = checked_drive(drive)
    step = step_samples(sample_rate)
    if not np.any(steps > 0):
        return np.zeros(len(steps) * step)
    sc = scene(rng, sample_rate, steps)
    if kind in ("hum", "rattle"):
        made = (rattle if kind == "rattle" else hum)(sc, mains_hz)
    else:
        made = _METHODS[kind][int(rng.integers(len(_METHODS[kind])))](sc)
    out: Floats = made * _mask(steps, step, 20 if kind == "flush" else 8)
    return out
