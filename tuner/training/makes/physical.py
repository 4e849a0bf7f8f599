"""The nine kinds of sound, built from small physical models: bubbles, air columns, jets, inlets, impacts and rotors.

Each call draws a new instance from the generator: one of several unlike mechanisms for the kind (at times two at
once), with sizes, rates, damping and resonances drawn over wide spans, so that a detector that trains on it learns
the mechanism's range, not one tone of voice. Spans without a named law are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from tuner.rehearsal.voices.control import CONTROL_S, checked_drive, step_samples
from tuner.terms import SoundKind
from tuner.training.makes.physical_parts import GROWTH, Bench

Floats = NDArray[np.float64]

_BOTH_SHARE = 0.2


class _Mechanisms(Bench):
    """The mechanisms: three for each kind."""

    def dragged(self) -> Floats:
        """Gurgle: clusters of large bubbles heard through the pipe that they are dragged down."""
        heard = self.mix(self.plume((4.0, 40.0), (2.0, 5.0), (8.0, 25.0)), ((0.02, 0.4), self.jet((150.0, 900.0))))
        return self.pipe(heard) if self.rng.random() < 0.7 else heard

    def glug(self) -> Floats:
        """Gurgle: an emptying bottle: each plug of air shakes the pocket behind it, a low note with spray after it."""
        times = self.times(self.log(1.2, 8.0) * self.drive**0.3 * self.walk(0.8, 0.3), self.log(1.0, 20.0))
        pitch = self.log(70.0, 420.0) * self.varied(len(times), 0.03, 0.35)
        amps = self.varied(len(times), 0.2, 0.8) * self.at(times, self.drive) ** 0.5
        plugs = self.bubbles(times, pitch, amps) + self.bubbles(times, pitch * self.flat(1.8, 3.2), amps * 0.3)
        spray = self.jet((200.0, 1200.0)) * self.puffs(times, 0.01, self.log(0.03, 0.25))
        return self.mix(plugs, ((0.05, 0.6), spray), ((0.1, 0.7), self.plume((8.0, 60.0), (1.2, 1.3), (4.0, 9.0))))

    def chain(self) -> Floats:
        """Gurgle: bubbles of nearly one size pinched off in a chain that pauses and pairs at whim."""
        runs = 0.03 + (self.walk(self.log(0.08, 0.6), 1.0) > self.log(0.3, 1.2))
        times = self.times(self.log(10.0, 45.0) * np.sqrt(self.drive) * runs, self.log(1.5, 12.0))
        merged = np.where(self.rng.random(len(times)) < self.flat(0.0, 0.3), 2.0 ** (1.0 / 3.0), 1.0)
        pitch = self.log(220.0, 850.0) * self.at(times, self.walk(0.3, self.flat(0.1, 0.4))) / merged
        tones = self.bubbles(times, pitch * self.varied(len(times), 0.02, 0.25), merged**2)
        return self.pipe(tones) if self.rng.random() < 0.5 else tones

    def vortex(self) -> Floats:
        """Slurp: an air core opens and shuts; its rasp sounds in a column that grows as the level falls."""
        place = self.place(self.log(0.8, 5.0))
        air = self.rasp((18.0, 160.0), 2.0 ** (self.flat(-1.0, 1.0) * place)) + self.log(0.02, 0.5)
        return self.pipe(self.jet((400.0, 3500.0)) * air, 1.0 - place) * self.gulps((0.8, 7.0))

    def straw(self) -> Floats:
        """Slurp: air and water share a mouth: a torn jet whose peak climbs, thick with bubbles."""
        climb = 2.0 ** (self.flat(-0.5, 2.0) * self.place(self.log(0.8, 4.0))) * self.walk(0.15, self.flat(0.1, 0.5))
        torn = self.jet((300.0, 2500.0), trend=climb) * self.flutter(self.log(12.0, 90.0), 0.8)
        gulps, crowd = self.gulps((0.7, 9.0)), self.plume((60.0, 450.0), (0.5, 1.2), (4.0, 14.0))
        return self.mix(torn * gulps, ((0.15, 1.5), crowd * (gulps + self.flat(0.0, 0.4))))

    def lips(self) -> Floats:
        """Slurp: the inlet's rim flaps like lips; near-periodic pulses of air ring the pipe, with a little breath."""
        place = self.place(self.log(0.6, 3.0))
        flaps = self.rasp((25.0, 220.0), 2.0 ** (self.flat(-0.8, 0.8) * place))
        breath = self.jet((600.0, 4000.0)) * (flaps + 0.1)
        heard = self.pipe(self.mix(np.diff(flaps, prepend=0.0), ((0.2, 2.0), breath)), place)
        return self.ring(heard, (200.0, 400.0), (1500.0, 4000.0), (0.2, 1.0)) * self.gulps((0.8, 6.0))

    def film(self) -> Floats:
        """Trickle: a rain of small bubbles from a film."""
        return self.plume((80.0, 1500.0), (0.3, 0.7), (1.2, 3.5), (1.0, 4.0))

    def drops(self) -> Floats:
        """Trickle: drops: a tick on the surface, then, for a drawn share, the note of the bubble left behind."""
        times = self.times(self.log(25.0, 500.0) * np.sqrt(self.drive), self.log(0.5, 5.0))
        mass = self.varied(len(times), 0.3, 1.0)
        ticks = self.ring(self.impulses(times, mass), (900.0, 2500.0), (4500.0, 9000.0))
        mass = mass * (self.rng.random(len(times)) < self.flat(0.2, 0.95))
        delay = self.flat(0.005, 0.03) * (1.0 + self.rng.random(len(times)))
        notes = self.bubbles(times + delay, self.log(1300.0, 4500.0) * self.varied(len(times), 0.1, 0.5), mass)
        return self.mix(notes, ((0.05, 1.5), ticks))

    def rill(self) -> Floats:
        """Trickle: a few places that each drip their own note in their own rhythm over the rustle of a thin film."""
        notes = np.zeros(self.n)
        for _ in range(int(self.rng.integers(3, 10))):
            times = self.times(self.log(4.0, 60.0) * self.walk(0.7, 0.5) * np.sqrt(self.drive), self.log(0.7, 20.0))
            pitch = self.log(1000.0, 6000.0) * self.varied(len(times), 0.02, 0.2)
            notes += self.bubbles(times, pitch, self.log(0.3, 1.0) * self.varied(len(times), 0.2, 0.6))
        rustle = self.jet((1800.0, 6000.0), (1.0, 3.0)) * self.flutter(self.log(5.0, 60.0), self.flat(0.1, 0.8))
        return self.mix(notes, ((0.1, 1.0), rustle))

    def plunge(self) -> Floats:
        """Splash: a plunging jet: its impact heaves, its bubble plume rings one by one and as a cloud."""
        heave = self.spread(self.walk(self.log(0.1, 0.8), self.flat(0.1, 0.5)))
        impact = self.jet((300.0, 2200.0)) * heave * self.flutter(self.log(8.0, 80.0), self.flat(0.1, 0.6))
        cloud = self.jet((120.0, 500.0), (1.5, 2.5), (2.0, 4.0)) * heave
        return self.mix(impact, ((0.2, 2.0), self.plume((80.0, 800.0), (0.4, 0.9), (3.0, 9.0))), ((0.03, 0.5), cloud))

    def lumps(self) -> Floats:
        """Splash: a sheet tears into lumps: each slaps the surface with a burst of noise and shuts a cavity."""
        times = self.times(self.log(12.0, 140.0) * self.drive**0.4 * self.walk(0.3, 0.4), self.log(0.5, 3.0))
        slaps = self.puffs(times, self.log(0.0003, 0.004), self.log(0.008, 0.07)) + self.log(0.05, 0.8)
        pitch = self.log(450.0, 1800.0) * self.varied(len(times), 0.2, 0.7)
        shut = self.bubbles(times + 0.015, pitch, pitch**-0.5)
        return self.mix(self.jet((500.0, 3500.0)) * slaps, ((0.2, 1.2), shut))

    def beaten(self) -> Floats:
        """Splash: water beats a wall or a thin layer: the box answers with its modes, bubbles burst over it."""
        beats = self.times(self.log(200.0, 2500.0) * np.sqrt(self.drive), self.log(0.3, 1.0))
        hits = self.impulses(beats, self.rng.standard_normal(len(beats)) * self.varied(len(beats), 0.3, 1.2))
        rung = self.ring(hits, (150.0, 400.0), (3000.0, 6000.0), (0.2, 2.0)) * self.spread(self.walk(0.4, 0.4))
        burst = self.plume((40.0, 500.0), (0.4, 1.0), (2.5, 7.0))
        return self.mix(rung, ((0.2, 1.5), burst), ((0.1, 1.2), self.jet((800.0, 4000.0))))

    def rush(self) -> Floats:
        """Hiss: a free jet of air; its peak (Strouhal number about 0.2) follows the supply."""
        speed = (self.drive + 0.01) ** self.flat(0.1, 0.4) * self.walk(self.log(0.5, 5.0), self.flat(0.0, 0.15))
        return self.jet((1800.0, 9000.0), (0.6, 2.5), (0.3, 2.5), speed)

    def slot(self) -> Floats:
        """Hiss: a slot near its own tone: a jet with one to three narrow, restless bands."""
        air, gains = self.jet((2000.0, 8000.0), (0.5, 2.0), (0.3, 2.0)), np.ones(1)
        for _ in range(int(self.rng.integers(1, 4))):
            centre = self.log(1200.0, 7000.0) * self.edges(self.walk(self.log(0.2, 3.0), self.flat(0.0, 0.05)))
            gains = gains + self.log(0.5, 6.0) / (1.0 + ((self.bins / centre - 1.0) * self.log(4.0, 40.0)) ** 2)
        return self.through(air, gains)

    def tube(self) -> Floats:
        """Hiss: a tap that feeds an air tube: the tube combs the noise, the flow puffs between smooth and rough."""
        air = self.jet((2200.0, 9000.0), (1.0, 3.0), (0.3, 1.5))
        return self.mix(air, ((0.2, 2.0), self.pipe(air, metres=(0.02, 0.4)))) * self.flutter(
            self.log(2.0, 40.0), self.flat(0.0, 0.35)
        )

    def gasp(self) -> Floats:
        """Return a broken siphon's gasp: rough air at the end of each bout and a little after it."""
        before, after, level = int(self.rng.integers(2, 16)), int(self.rng.integers(3, 19)), np.zeros(len(self.drive))
        arch = np.sin(np.pi * (np.arange(1, before + after + 1) / (before + after + 1)) ** self.flat(0.6, 1.5))
        for last in np.flatnonzero(np.diff(self.drive > 0, append=False) & (self.drive > 0)).tolist():
            first, end = max(last + 1 - before, 0), min(last + 1 + after, len(level))
            level[first:end] = arch[first - last - 1 + before :][: end - first] * self.drive[last]
        late = replace(self, drive=level)
        rough = late.rasp((12.0, 140.0), np.ones(len(level))) + self.log(0.05, 0.5)
        return self.pipe(late.jet((300.0, 2500.0)) * rough)

    def swell(self, place: Floats) -> Floats:
        """Return a flush's rise at each sample: slow or sudden, to the full fall."""
        return self.spread(np.clip(place / self.flat(0.1, 0.8), 0.05, 1.0) ** self.flat(0.6, 3.0))

    def priming(self) -> Floats:
        """Flush: the pipe primes: its air column shortens under a growing rush, then the siphon breaks."""
        place = self.place(6.0)
        fall = self.jet((200.0, 1500.0), trend=1.0 + self.flat(0.0, 1.5) * place) * self.swell(place)
        return self.mix(fall, ((0.3, 3.0), self.pipe(fall, place)), ((0.2, 1.5), self.gasp()))

    def slugs(self) -> Floats:
        """Flush: slugs of air come faster and faster until they run together."""
        place = self.place(6.0)
        air = self.plume((8.0, 40.0), (0.8, 2.0), (7.0, 20.0), trend=self.log(4.0, 40.0) ** place)
        return self.mix(air, ((0.3, 1.5), self.jet((150.0, 1000.0)) * self.swell(place)), ((0.2, 1.2), self.gasp()))

    def surging(self) -> Floats:
        """Flush: the water swings as in a U-tube while the roar grows; every swing swallows air."""
        phase = 2.0 * np.pi * np.cumsum(self.log(0.5, 3.5) * self.walk(1.0, 0.2)) * CONTROL_S
        swing = np.exp(self.flat(0.3, 1.2) * np.sin(phase))
        fall = self.jet((250.0, 1800.0), trend=swing**0.4) * self.swell(self.place(6.0)) * self.spread(swing)
        air = self.plume((30.0, 300.0), (0.8, 1.8), (4.0, 14.0), trend=swing**2)
        return self.mix(fall, ((0.2, 1.0), air), ((0.2, 1.2), self.gasp()))

    def broad(self) -> Floats:
        """Roar: wholly turbulent water, low and broad, with a slow heave."""
        heave = self.spread(self.walk(self.log(0.3, 3.0), self.flat(0.02, 0.25)))
        low = self.jet((80.0, 450.0), (0.3, 2.0), (0.7, 1.5)) * heave
        return self.mix(low, ((0.01, 0.2), self.jet((900.0, 4000.0))))

    def cloud(self) -> Floats:
        """Roar: a dense plume of large bubbles in the rumble of their cloud."""
        rumble = self.jet((70.0, 350.0), high=(0.7, 1.5))
        return self.mix(rumble, ((0.15, 1.2), self.plume((150.0, 900.0), (1.0, 2.2), (8.0, 22.0), (1.0, 3.0))))

    def stack(self) -> Floats:
        """Roar: water falls free in a pipe: the air in it sounds and the wall booms."""
        fall = self.jet((100.0, 600.0), high=(0.6, 1.6)) * self.flutter(self.log(3.0, 30.0), self.flat(0.0, 0.3))
        wall = self.ring(fall, (60.0, 150.0), (500.0, 1200.0), (0.3, 2.0))
        return self.mix(fall, ((0.2, 1.5), self.pipe(fall)), ((0.1, 1.0), wall))

    def pumped(self, lines: Floats) -> Floats:
        """Return a pump's lines as loud as the drive, over the noise of its flow."""
        return self.mix(lines * self.press(), ((0.005, 0.25), self.jet((150.0, 1500.0))))

    def magnet(self) -> Floats:
        """Hum: the stator pulls twice a cycle of the mains: harmonics of that, and a trace of the mains itself."""
        pull = self.tones(2.0 * self.mains, [*range(1, int(self.rng.integers(3, 10)))], 1.2, 0.0)
        lines = self.mix(pull, ((0.02, 0.4), self.tones(self.mains, [1, 3, 5, 7], 0.5, 0.0)))
        return self.pumped(self.ring(lines, (80.0, 150.0), (500.0, 1200.0), (0.5, 2.0)))

    def shaft(self) -> Floats:
        """Hum: blade passing, modulated by the shaft, with the commutation of a DC motor."""
        hz, blades = (self.mains if self.rng.random() < 0.4 else self.log(18.0, 75.0)), float(self.rng.integers(3, 10))
        orders = [blades, 2.0 * blades, 1.0, 6.0, 2.0, 3.0 * blades, 12.0, blades - 1.0, blades + 1.0]
        return self.pumped(self.tones(hz, orders, self.flat(0.3, 1.2), self.log(0.0003, 0.01)))

    def beating(self) -> Floats:
        """Hum: two pumps a little apart in speed: their lines beat."""
        base, orders, drift = self.log(40.0, 180.0), [*range(1, int(self.rng.integers(3, 9)))], self.log(0.0001, 0.003)
        other = self.tones(base + self.log(0.2, 4.0), orders, 0.8, drift)
        return self.pumped(self.mix(self.tones(base, orders, 0.8, drift), ((0.3, 1.0), other)))

    def knocks(self) -> Floats:
        """Rattle: a worn bearing knocks once a turn or so, often twice; the housing rings."""
        pace = self.log(6.0, 60.0) * self.walk(self.log(0.5, 5.0), self.log(0.001, 0.05))
        times = self.times(pace, self.log(60.0, 20_000.0))
        amps, late = self.varied(len(times), 0.1, 0.7) * self.at(times, self.drive**GROWTH), 1.0 / float(np.mean(pace))
        hits = self.impulses(times, amps)
        hits += self.impulses(times + late * self.flat(0.15, 0.6), amps * self.flat(0.0, 0.8))
        return self.mix(self.ring(hits, (200.0, 1200.0), (2500.0, 7000.0)), ((0.02, 0.4), self.magnet()))

    def buzz(self) -> Floats:
        """Rattle: the hum shakes a panel that touches only at the crests: clipped contact, rich and restless."""
        base = 2.0 * self.mains if self.rng.random() < 0.5 else self.log(20.0, 120.0)
        shake = self.tones(base, [1.0, 0.5, 2.0, 3.0], 0.8, self.log(0.0003, 0.01))
        gap = self.spread(self.walk(self.log(0.05, 1.0), self.flat(0.1, 0.4))) * self.flat(0.3, 0.8) * np.max(shake)
        force = np.maximum(shake - gap, 0.0) * (1.0 + self.flat(0.0, 0.8) * self.rng.standard_normal(self.n))
        return self.ring(np.diff(force, prepend=0.0) * self.press(), (250.0, 800.0), (3000.0, 7000.0))

    def chatter(self) -> Floats:
        """Rattle: loose play: each throw of the rotor bounces ever faster before it lies still."""
        times = self.times(self.log(2.5, 22.0) * self.walk(0.8, self.flat(0.02, 0.3)), self.log(3.0, 200.0))
        amps = self.varied(len(times), 0.2, 0.6) * self.at(times, self.drive**GROWTH)
        bounce, gap, hits = self.flat(0.5, 0.9), self.log(0.006, 0.04), np.zeros(self.n)
        for k in range(int(self.rng.integers(2, 10))):
            late = gap * (1.0 - bounce**k) / (1.0 - bounce) * self.varied(len(times), 0.05, 0.15)
            hits += self.impulses(times + late, amps * bounce**k)
        return self.mix(self.ring(hits, (250.0, 1500.0), (2500.0, 8000.0)), ((0.02, 0.3), self.shaft()))


_METHODS: dict[SoundKind, tuple[Callable[[_Mechanisms], Floats], ...]] = {
    "gurgle": (_Mechanisms.dragged, _Mechanisms.glug, _Mechanisms.chain),
    "slurp": (_Mechanisms.vortex, _Mechanisms.straw, _Mechanisms.lips),
    "trickle": (_Mechanisms.film, _Mechanisms.drops, _Mechanisms.rill),
    "splash": (_Mechanisms.plunge, _Mechanisms.lumps, _Mechanisms.beaten),
    "hiss": (_Mechanisms.rush, _Mechanisms.slot, _Mechanisms.tube),
    "flush": (_Mechanisms.priming, _Mechanisms.slugs, _Mechanisms.surging),
    "roar": (_Mechanisms.broad, _Mechanisms.cloud, _Mechanisms.stack),
    "hum": (_Mechanisms.magnet, _Mechanisms.shaft, _Mechanisms.beating),
    "rattle": (_Mechanisms.knocks, _Mechanisms.buzz, _Mechanisms.chatter),
}


def _gate(bench: Bench, tail_s: float) -> Floats:
    """Return 1 while driven, a fade of ``tail_s`` after it, 0 elsewhere."""
    last = np.where(np.repeat(bench.drive > 0, bench.step), np.arange(bench.n), -bench.n - bench.rate)
    age = np.arange(bench.n) - np.maximum.accumulate(last)
    return np.asarray(np.clip(1.0 - age / (tail_s * bench.rate), 0.0, 1.0))


def sound(
    kind: SoundKind, rng: np.random.Generator, sample_rate: int, drive: NDArray[np.float64], mains_hz: float
) -> NDArray[np.float64]:
    """Return a new instance of a kind, at no level: shape (len(drive) * step,), 0 where never driven."""
    curve = checked_drive(drive)
    bench = _Mechanisms(rng, sample_rate, curve, mains_hz, step_samples(sample_rate))
    if not curve.any():
        return np.zeros(bench.n)
    chosen = rng.permutation(len(_METHODS[kind]))[: 2 if rng.random() < _BOTH_SHARE else 1]
    first, *others = (_METHODS[kind][i](bench) for i in chosen.tolist())
    tail_s = 1.0 if kind == "flush" else bench.flat(0.1, 0.5)
    return bench.mix(first, *(((0.3, 1.0), other) for other in others)) * _gate(bench, tail_s)
