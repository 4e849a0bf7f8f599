"""The microphone in the hand: held close to one pipe after the other, or pressed against it in a cup.

Sounds come from points in space. The pressure of a point falls with its distance (a source is no smaller than some
centimetres, so that it does not grow without bound), the reverberant sound of the room is the same everywhere, and
cabinet doors stand between what is at the tank and what is at the sump. So a held pipe's own sound rises by some 10
to 25 dB over the same microphone's far position and loses its reverberation, the pipe beside it by less, and what is
far stays as it was. A hand adds its own: a distance that differs from time to time, a slow tremor, rumble and rubs.

All ranges are common practice and have no source.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from tuner.rehearsal.cabinet import BEHIND_DOORS, Cabinet, doors_filter
from tuner.rehearsal.drives import SPOTS, Spot
from tuner.rehearsal.voices.loudness import REFERENCE_PA
from tuner.rehearsal.voices.room import Place as RoomPlace
from tuner.rehearsal.voices.room import room_response
from tuner.rehearsal.voices.shaping import Convolver, response_of_curve
from tuner.terms import Place

Floats = NDArray[np.float64]

HOME: dict[Spot, Place] = {
    "channel gurgle": "open channel",
    "siphon gurgle": "siphon",
    "siphon slurp": "siphon",
    "channel trickle": "open channel",
    "vent hiss": "open channel",
    "channel flush": "open channel",
    "emergency roar": "emergency",
    "outlet splash": "sump",
    "weir splash": "overflow box",
    "pump air hiss": "pump",
    "pump air crackle": "pump",
    "return air hiss": "return",
    "return air crackle": "return",
    "pump hum": "pump",
    "pump rattle": "pump",
}
"""Where each spot of the plant is to be found with the microphone."""

_LEAKS: dict[Spot, tuple[tuple[Place, float, float], ...]] = {
    "channel gurgle": (("sump", -18.0, -8.0),),
    "siphon gurgle": (("sump", -14.0, -5.0),),
    "siphon slurp": (("overflow box", -9.0, -1.0), ("sump", -14.0, -5.0)),
    "channel trickle": (("sump", -20.0, -10.0),),
    "channel flush": (("sump", -14.0, -5.0), ("overflow box", -14.0, -6.0)),
    "emergency roar": (("sump", -12.0, -3.0),),
    "pump air hiss": (("return", -16.0, -5.0),),
    "pump air crackle": (("return", -16.0, -5.0),),
    "pump hum": (("return", -24.0, -12.0), ("sump", -14.0, -6.0)),
    "pump rattle": (("return", -26.0, -14.0),),
}
"""Where else a sound comes out, with the range of its level there (dB re its home)."""

_IN_CABINET: frozenset[Place] = frozenset({"sump", "pump"})
_PIPES: tuple[Place, ...] = ("siphon", "open channel", "emergency")
_CURVE_HZ: Floats = np.array([31.5, 63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0, 16000.0])
_SETTLE_S = 0.4  # the room's tail and the filters have filled by then


class Nearby:
    """Where things stand around one installation, and the habits of one keeper's hand."""

    def __init__(self, cabinet: Cabinet, *, sample_rate: int, seed: np.random.SeedSequence) -> None:
        self._rng = np.random.default_rng(seed)
        u = self._rng.uniform
        self._cabinet = cabinet
        self._rate = sample_rate
        gaps = np.cumsum([0.0, u(0.08, 0.25), u(0.08, 0.25)])
        order = self._rng.permutation(3)
        depth_m = u(0.6, 1.1)
        at: dict[Place, tuple[float, float, float]] = {
            pipe: (float(gaps[slot]), 0.0, -u(0.05, 0.25)) for pipe, slot in zip(_PIPES, order, strict=True)
        }
        at["overflow box"] = (u(0.0, 0.3), u(0.1, 0.3), 0.05)
        at["return"] = (float(self._rng.choice([-1.0, 1.0])) * u(0.5, 1.3), u(0.0, 0.3), 0.05)
        at["sump"] = (u(-0.1, 0.3), 0.0, -depth_m)
        at["pump"] = (at["sump"][0] + u(0.25, 0.7), u(-0.2, 0.2), -depth_m - u(0.0, 0.15))
        self._at = {place: np.array(where) for place, where in at.items()}
        self._size_m = {spot: u(0.03, 0.07) for spot in SPOTS}
        self._points: dict[Spot, tuple[tuple[Place, float], ...]] = {
            spot: ((HOME[spot], 1.0), *((place, 10.0 ** (u(low, high) / 20.0)) for place, low, high in leaks))
            for spot in SPOTS for leaks in [_LEAKS.get(spot, ())]
        }
        room = cabinet.room
        critical_m = room.distance_m / 10.0 ** (room.reverb_db / 20.0)
        tail = room_response(
            RoomPlace(1.0, room.reverb_time_s, 0.0, 0.0), sample_rate=sample_rate, rng=self._rng.spawn(1)[0]
        )
        tail[0] = 0.0  # what is left out is the direct sound
        self._tail = tail / critical_m
        self._reach_m = u(0.005, 0.03)
        self._hand_db = u(0.5, 2.5)
        self._rumble_db = u(25.0, 48.0)
        self._cup_hz, self._cup_air_db = u(1500.0, 4500.0), u(5.0, 14.0)

    def way_s(self) -> float:
        """Return how long the next way takes."""
        return float(self._rng.uniform(2.0, 6.0))

    def held(self, place: Place, *, cup: bool = False) -> HeldMicrophone:
        """Return the microphone, held at a place; every time a little differently."""
        u = self._rng.uniform
        reach_m = self._reach_m + u(0.0, 0.03) if not cup else 0.005
        where = self._at[place] + self._rng.normal(0.0, 0.015, 3)
        gains: dict[Spot, tuple[float, float, float]] = {}
        for spot, points in self._points.items():
            near = beyond = 0.0
            for at, share in points:
                own = at == place
                away_m = reach_m if own else max(float(np.linalg.norm(self._at[at] - where)), 0.05)
                amplitude = share / np.hypot(away_m, self._size_m[spot])
                if (at in _IN_CABINET) == (place in _IN_CABINET):
                    near += amplitude**2
                else:
                    beyond += amplitude**2
            gains[spot] = (float(np.sqrt(near)), float(np.sqrt(beyond)), 1.0)
        return HeldMicrophone(
            gains, self._tail, place in _IN_CABINET, self._cabinet.doors_db, self._cup() if cup else None,
            10.0 ** (-self._cup_air_db / 20.0) if cup else 1.0, self._hand_db,
            self._rumble_db + (6.0 if cup else 0.0), self._rate, self._rng.spawn(1)[0],
        )

    def _cup(self) -> Convolver:
        octaves = np.maximum(0.0, np.log2(_CURVE_HZ / self._cup_hz))
        return Convolver(response_of_curve(_CURVE_HZ, -9.0 * octaves, sample_rate=self._rate, taps=256))


class HeldMicrophone:
    """One holding; ``gains`` are, for each spot, direct, direct through the doors, and into the room."""

    settle_s = _SETTLE_S

    def __init__(
        self, gains: dict[Spot, tuple[float, float, float]], tail: Floats, in_cabinet: bool, doors_db: float,
        cup: Convolver | None, air: float, hand_db: float, rumble_db: float, sample_rate: int,
        rng: np.random.Generator,
    ) -> None:
        self._gains = gains
        self._in_cabinet = in_cabinet
        self._room, self._room_beyond = Convolver(tail), Convolver(tail)
        self._doors = doors_filter(doors_db, sample_rate=sample_rate)
        self._doors_to_air = doors_filter(doors_db, sample_rate=sample_rate)
        self._cup = cup
        self._air = air
        self._hand_db = hand_db
        self._rumble_db = rumble_db
        self._rate = sample_rate
        self._rng = rng

    def pressure(self, sounding: Iterator[tuple[Spot, NDArray[np.float32]]], n: int) -> Floats:
        """Return the pressure (Pa) at the microphone, shape (n,)."""
        near, beyond, room, room_beyond = np.zeros(n), np.zeros(n), np.zeros(n), np.zeros(n)
        for spot, pressure in sounding:
            direct, through, reverberant = self._gains[spot]
            near += direct * pressure
            beyond += through * pressure
            if (spot in BEHIND_DOORS) == self._in_cabinet:
                room += reverberant * pressure
            else:
                room_beyond += reverberant * pressure
        near *= self._tremor(n)
        air = self._room.push(room) + self._doors.push(beyond + self._room_beyond.push(room_beyond))
        if self._cup is not None:
            # Through the wall of the pipe the cup takes what is close; what comes by air it keeps off.
            return self._cup.push(near + self._air * air) + self._handling(n)
        return near + air + self._handling(n)

    def through_air(self, household: Floats) -> Floats:
        """Return what arrives of sound in the room."""
        inside: Floats = self._doors_to_air.push(household) if self._in_cabinet else household
        return np.asarray(inside * self._air, dtype=np.float64)

    def _tremor(self, n: int) -> Floats:
        """A hand that comes nearer and goes away by some decibels within a second."""
        points = self._rng.normal(0.0, self._hand_db, n // (self._rate // 2) + 3)
        gain: Floats = 10.0 ** (np.interp(np.arange(n) / (self._rate / 2.0), np.arange(len(points)), points) / 20.0)
        return gain

    def _handling(self, n: int) -> Floats:
        """Rumble of a hand, and now and then a rub of a tenth of a second."""
        white = self._rng.standard_normal(n)
        curve = np.array([6.0, 3.0, 0.0, -12.0, -24.0, -36.0, -42.0, -48.0, -54.0, -60.0])
        rumble = Convolver(response_of_curve(_CURVE_HZ, curve, sample_rate=self._rate, taps=1024)).push(white)
        out: Floats = rumble * (REFERENCE_PA * 10.0 ** (self._rumble_db / 20.0) / (float(np.std(rumble)) + 1e-12))
        for _ in range(self._rng.poisson(0.25 * n / self._rate)):
            length = int(self._rng.uniform(0.03, 0.2) * self._rate)
            start = int(self._rng.integers(0, max(1, n - length)))
            rub = self._rng.standard_normal(length) * np.hanning(length)
            level_pa = REFERENCE_PA * 10.0 ** (self._rng.uniform(30.0, 58.0) / 20.0)
            out[start : start + length] += (rub * level_pa)[: n - start]
        return out
