"""Renders what a microphone hears: every voice at its true level, from its place, in the room."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.bench.another_rig import voices
from tests.bench.another_rig.bubbles import bank
from tests.bench.another_rig.hydraulics import Installation
from tests.bench.another_rig.noise import Samples, a_rms, smooth
from tests.bench.another_rig.room import (
    PLACES,
    Microphone,
    Room,
    draw_room,
    room_sound,
    through_microphone,
    through_room,
)
from tests.bench.another_rig.truth import Loudness, draw_loudness, flush_envelopes, levels_dba
from tests.bench.another_rig.voices import Take, Timbre, draw_timbre
from tests.bench.another_rig.water import STEP_S, Course

# How much of a voice sounds from the overflow box and from the cabinet.
FROM: dict[str, tuple[float, float]] = {
    "gurgle": (0.75, 0.55), "slurp": (0.95, 0.2), "surge": (0.0, 1.0), "trickle": (0.7, 0.6), "hiss": (1.0, 0.0),
    "flush": (0.8, 0.6), "roar": (0.6, 0.8), "splash": (1.0, 0.0),
}
UNHEARD_DB = 14.0  # so far under the room, a voice is not worth rendering
ON = 0.05  # a gate over this counts as open
HUM = ((2, 0), (4, -12), (6, -14))  # multiples of the mains, dB


@dataclass(frozen=True)
class Sounds:
    """All that makes one installation sound as it does."""

    loudness: Loudness
    timbre: Timbre
    room: Room
    microphone: Microphone


def draw_sounds(rng: np.random.Generator) -> Sounds:
    loudness = draw_loudness(rng)
    gain_db, reverberation_s = -rng.uniform(80, 112), rng.uniform(0.22, 0.6)
    timbre = draw_timbre(rng)
    return Sounds(loudness, timbre, *draw_room(rng, loudness.room_dba, reverberation_s, gain_db))


def render(
    sounds: Sounds, built: Installation, course: Course | None, seconds: float, rate_hz: int, seed: int,
    rng: np.random.Generator,
) -> NDArray[np.float32]:
    """Return the microphone's samples under a course of the water; None is the room with the pumps off."""
    n = int(seconds * rate_hz)
    heard = np.zeros(n)
    if course is not None:
        take = Take(n, rate_hz, rng, sounds.timbre, bank(rate_hz, sounds.timbre.damping, seed))
        for place, x in enumerate(_Mix(take, course, sounds, built).places()):
            if x.any():
                heard += through_room(x, sounds.room, seed, place, rate_hz)
    heard += room_sound(sounds.room, rng, n, rate_hz)
    return through_microphone(heard, sounds.microphone, rng, rate_hz).astype(np.float32)


class _Mix:
    """The voices of one rendering, as they sound from each place."""

    def __init__(self, take: Take, course: Course, sounds: Sounds, built: Installation) -> None:
        self.take, self.course, self.sounds, self.built = take, course, sounds, built
        self.buses = [np.zeros(take.n) for _ in PLACES]

    def places(self) -> list[Samples]:
        take, course, channel = self.take, self.course, self.built.channel
        levels = levels_dba(course, self.sounds.loudness, self.built)
        least_dba = self.sounds.room.level_dba - UNHEARD_DB
        heard = {
            kind: self._up(np.where(level > least_dba, 10 ** (level / 20), 0.0))
            for kind, level in levels.items() if (level > least_dba).any()
        }
        if "gurgle" in heard:
            self._gurgle(heard["gurgle"])
        if "slurp" in heard:
            gate = smooth((heard["slurp"] > 0) * 1.0, 0.03, take.rate_hz)
            self._put("slurp", heard, gate, voices.slurp)
        self._surge()
        if "trickle" in heard:
            self._put("trickle", heard, _relative(heard["trickle"]), voices.trickle)
        if "hiss" in heard:
            bore_m = channel.vent_bore_m(course.vent)
            self._put("hiss", heard, _relative(heard["hiss"]),
                      lambda take, gate: voices.hiss(take, self._up(course.air_m_s), bore_m) * gate)
        if "flush" in heard:
            rush, gasp = (self._up(x) for x in flush_envelopes(course, self.sounds.loudness))
            full, gasp = smooth(rush, 0.03, take.rate_hz), smooth(gasp, 0.04, take.rate_hz)
            self._put("flush", heard, np.maximum(full, gasp), lambda take, _: voices.flush(take, full, gasp))
        for kind, voice in (("roar", voices.roar), ("splash", voices.splash)):
            if kind in heard:
                self._put(kind, heard, smooth(_relative(heard[kind]), 0.1, take.rate_hz), voice)
        self.buses[1] += self._quiet_running()
        return self.buses

    def _gurgle(self, amplitude: Samples) -> None:
        """Add the gurgle, which comes and goes with the film as fast as that does."""
        on = (amplitude > 0) * 1.0
        strength = self._up(np.clip(self.course.froude / self.built.channel.gurgle_froude - 1, 0, 2))
        swell = np.minimum(amplitude / np.percentile(amplitude[amplitude > 0], 90), 1.5)
        x = voices.gurgle(self.take, on, strength) * smooth(swell, 0.02, self.take.rate_hz)
        self._add("gurgle", x, _level(amplitude), on)

    def _surge(self) -> None:
        """Add the swallowed air, which comes out at the sump a moment later."""
        air = self._up(self.course.air_share)
        if air.max() <= 0.03:
            return
        late = int((0.3 + 0.5 * self.built.siphon.run_m) * self.take.rate_hz)
        if late < len(air):
            air = np.concatenate([np.zeros(late), air[:-late]])
        air = np.clip(air / 0.4, 0, 2)
        if (air > ON).any():
            level_db = self.sounds.loudness.slurp_dba + self.sounds.timbre.surge_db
            self._add("surge", voices.surge(self.take, air), 10 ** (level_db / 20), air)

    def _quiet_running(self) -> Samples:
        """Return what is always there: the rush in the full siphon and the pump's weak tone."""
        room, take = self.sounds.room, self.take
        rush = take.shaped((60, -3), (200, 0), (700, -6), (2500, -18), (8000, -36))
        rush *= 10 ** ((room.level_dba - room.rush_under_db) / 20)
        x = rush * self._up(self.course.siphon_m3_s / self.built.flow_m3_s)
        t = np.arange(take.n) / take.rate_hz
        for multiple, gain_db in HUM:
            height = math.sqrt(2) * 10 ** ((room.pump_hum_db + gain_db) / 20)
            x += height * np.sin(2 * np.pi * room.mains_hz * multiple * t + multiple)
        return x

    def _put(
        self, kind: str, heard: dict[str, Samples], gate: Samples, voice: Callable[[Take, Samples], Samples]
    ) -> None:
        self._add(kind, voice(self.take, gate), _level(heard[kind]), gate)

    def _add(self, kind: str, voice: Samples, level: float, gate: Samples) -> None:
        """Add a voice, rendered under a gate, at its level where the gate is open."""
        on = gate > ON
        if not on.any():
            return
        x = voice / a_rms(voice, self.take.rate_hz, on.astype(float)) * level
        for bus, share in zip(self.buses, FROM[kind], strict=True):
            if share:
                bus += share * x

    def _up(self, x: NDArray[np.float64]) -> Samples:
        """Return a course of the water at the sample rate."""
        t = (np.arange(self.take.n) + 0.5) / self.take.rate_hz
        return np.interp(t, (np.arange(len(x)) + 0.5) * STEP_S, x)


def _relative(amplitude: Samples) -> Samples:
    return np.minimum(amplitude / amplitude.max(), 1)


def _level(amplitude: Samples) -> float:
    return math.sqrt((amplitude[amplitude > 0] ** 2).mean())
