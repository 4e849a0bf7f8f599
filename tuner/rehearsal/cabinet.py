"""What the microphone hears of the plant: a voice at each place that sounds, the room, the household."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from tuner.rehearsal.drives import SPOTS, Spot
from tuner.rehearsal.installation import Installation
from tuner.rehearsal.voices import (
    Background,
    Voice,
    draw_microphone,
    draw_room,
    make_hum,
    make_rattle,
    make_voice,
)
from tuner.rehearsal.voices.bed import OCTAVES_HZ
from tuner.rehearsal.voices.room import Place as RoomPlace
from tuner.rehearsal.voices.shaping import Convolver, response_of_curve
from tuner.terms import Samples

Floats = NDArray[np.float64]

_ORDER = tuple(SPOTS)
_MOST_BY_DOORS_DB = 12.0  # at 1 kHz, from an open cabinet to one with tight doors; common practice, no source
_DOORS_BY_OCTAVE: Floats = np.array([0.3, 0.4, 0.6, 0.8, 1.0, 1.25, 1.5, 1.7, 1.8])
"""Loss through doors and gaps over ``OCTAVES_HZ`` as a share of that at 1 kHz: it grows with frequency."""
_LID_SHARE = 0.4  # what stands in the open at the tank loses so much of it, evenly, to lid and box
BEHIND_DOORS: frozenset[Spot] = frozenset(
    {"outlet splash", "pump air hiss", "pump air crackle", "pump hum", "pump rattle"}
)
"""The places at the sump, in the cabinet; all others are at the tank and its overflow box."""


class Held(Protocol):
    """A microphone that is held close to a place."""

    def pressure(self, sounding: Iterator[tuple[Spot, NDArray[np.float32]]], n: int) -> Floats:
        """Return the pressure (Pa) at the microphone for the pressures at 1 m from what sounds, (n,)."""
        ...

    def through_air(self, household: Floats) -> Floats:
        """Return what arrives of sound in the room."""
        ...


def doors_filter(loss_db: float, *, sample_rate: int) -> Convolver:
    """Return the filter of cabinet doors that change the level at 1 kHz by ``loss_db`` (negative), more above."""
    return Convolver(response_of_curve(OCTAVES_HZ, loss_db * _DOORS_BY_OCTAVE, sample_rate=sample_rate, taps=256))


class Cabinet:
    """The sound side of a rehearsal. Every voice has its own generator, so that one does not change another."""

    def __init__(
        self, truth: Installation, *, sample_rate: int, seed: np.random.SeedSequence, background_db: float
    ) -> None:
        room, background, microphone, doors, *voices = seed.spawn(4 + len(_ORDER))
        self.doors_db = -float(np.random.default_rng(doors).uniform(0.0, _MOST_BY_DOORS_DB))
        self._truth = truth
        self._rate = sample_rate
        self._room = draw_room(np.random.default_rng(room), sample_rate)
        mains_hz = truth.returns.mains_hz
        self._background = Background(np.random.default_rng(background), sample_rate, background_db, mains_hz)
        self._microphone = draw_microphone(np.random.default_rng(microphone), sample_rate)
        self._doors = doors_filter(self.doors_db, sample_rate=sample_rate)
        self._seeds = dict(zip(_ORDER, voices, strict=True))
        self._voices: dict[Spot, Voice] = {}

    @property
    def distance_m(self) -> float:
        """Distance of the microphone from the cabinet."""
        return self._room.at.distance_m

    def loss_db(self, spot: Spot) -> float:
        """Return what doors or lid change the level of a place by, at 1 kHz."""
        return self.doors_db if spot in BEHIND_DOORS else self.doors_db * _LID_SHARE

    @property
    def room(self) -> RoomPlace:
        """What the room is like, and how far from the cabinet the microphone stands."""
        return self._room.at

    @property
    def full_scale_offset_db(self) -> float:
        """Decibels from dB re full scale to dB re 20 µPa at 1 kHz."""
        return self._microphone.full_scale_offset_db

    @property
    def floor_db(self) -> float:
        """A-weighted level of room and microphone noise together, dB re 20 µPa."""
        powers = [10.0 ** (db / 10.0) for db in (self._background.level_db, self._microphone.make.self_noise_db)]
        return float(10.0 * np.log10(sum(powers)))

    def voice(self, spot: Spot) -> Voice:
        """Return the voice of a place, drawing it when the place is heard for the first time."""
        if spot not in self._voices:
            kind = SPOTS[spot]
            rng = np.random.default_rng(self._seeds[spot])
            r = self._truth.returns
            if kind == "hum":
                made = make_hum(sample_rate=self._rate, rng=rng, mains_hz=r.mains_hz, shaft_hz=r.shaft_hz)
            elif kind == "rattle":
                made = make_rattle(sample_rate=self._rate, rng=rng, mains_hz=r.mains_hz, shaft_hz=r.shaft_hz)
            else:
                made = make_voice(kind, sample_rate=self._rate, rng=rng)
            self._voices[spot] = made
        return self._voices[spot]

    def hear(self, drives: dict[Spot, Floats], household: Floats | None) -> Samples:
        """Return microphone samples for drives of shape (n,) control steps; ``household`` is in pascal at the spot."""
        n = len(next(iter(drives.values()))) * (self._rate // 20)
        at_sump, at_tank = np.zeros(n), np.zeros(n)
        for spot, pressure in self._sounding(drives):
            part = at_sump if spot in BEHIND_DOORS else at_tank
            part += pressure
        outside: Floats = self._doors.push(at_sump) + at_tank * 10.0 ** (self.doors_db * _LID_SHARE / 20.0)
        return self._record(self._room.place(outside), household)

    def hear_near(self, drives: dict[Spot, Floats], household: Floats | None, held: Held) -> Samples:
        """Return what the microphone gives while it is held close to a place; ``household`` as in ``hear``."""
        n = len(next(iter(drives.values()))) * (self._rate // 20)
        near = held.pressure(self._sounding(drives), n)
        return self._record(near, None if household is None else held.through_air(household))

    def _sounding(self, drives: dict[Spot, Floats]) -> Iterator[tuple[Spot, NDArray[np.float32]]]:
        """Give the pressure at 1 m of every place that sounds, or did before, so that its voice goes on."""
        for spot in _ORDER:
            if spot in self._voices or drives[spot].any():
                yield spot, self.voice(spot).render(drives[spot])

    def hear_room(self, n_steps: int) -> Samples:
        """Return microphone samples of the room alone; the voices keep their state."""
        return self._record(np.zeros(n_steps * (self._rate // 20)), None)

    def _record(self, pressure: Floats, household: Floats | None) -> Samples:
        at_microphone = pressure + self._background.render(len(pressure))
        if household is not None:
            at_microphone = at_microphone + household
        return self._microphone.record(at_microphone)
