"""A rehearsal: an installation that runs, is listened to through a microphone, and can be turned by hand.

A listener gets samples and the keeper's description (``rig``), never the truth. Hands err: a move differs a little
from the one that was wanted, a valve has free play when its direction changes, and controls end at their stops.
``truth`` is for benches alone.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from tuner.errors import ConfigError
from tuner.rehearsal.cabinet import Cabinet
from tuner.rehearsal.drives import Spot, drives_of
from tuner.rehearsal.figures import STEP_S
from tuner.rehearsal.hand import Hand
from tuner.rehearsal.installation import Installation
from tuner.rehearsal.nearby import Nearby
from tuner.rehearsal.plant import Plant
from tuner.rehearsal.truth import Truth, truth_of
from tuner.rig import Rig
from tuner.terms import CauseName, Control, Place, Samples

Floats = NDArray[np.float64]

_CHUNK_STEPS = 400  # 20 s: bounds the memory of one rendering
_REFERENCE_PA = 20e-6


class Rehearsal:
    """One installation in one household.

    Parameters
    ----------
    installation
        The truth, with the settings that it starts from.
    sample_rate
        Hz, a multiple of 20 from 16000 to 48000.
    seed
        Everything random follows from it: the same seed gives the same samples.
    background_db
        A-weighted level of the quiet room at the microphone, dB re 20 µPa.
    household
        Mono float32 samples at ``sample_rate`` that are mixed in at the microphone, over and over; None for none.
    household_db
        Root mean square level of ``household`` at the microphone, dB re 20 µPa.
    cause
        The cause that was brought about, for benches; None when the installation is quiet or detuned at large.
    """

    def __init__(
        self,
        installation: Installation,
        *,
        sample_rate: int,
        seed: int,
        background_db: float,
        household: Samples | None = None,
        household_db: float = 45.0,
        cause: CauseName | None = None,
    ) -> None:
        if not 16_000 <= sample_rate <= 48_000 or sample_rate % 20:
            raise ConfigError(f"sample_rate={sample_rate} must be a multiple of 20 from 16000 to 48000: use 48000")
        self.sample_rate = sample_rate
        self._installation = installation
        self._cause: CauseName | None = cause
        plant_seed, sound_seed, hand_seed, scan_seed = np.random.SeedSequence(seed).spawn(4)
        self._plant = Plant(installation, np.random.default_rng(plant_seed))
        self._cabinet = Cabinet(installation, sample_rate=sample_rate, seed=sound_seed, background_db=background_db)
        self._hand = Hand(installation, np.random.default_rng(hand_seed))
        self._scan_seed = scan_seed
        self._nearby: Nearby | None = None
        self._rest: Samples = np.zeros(0, dtype=np.float32)
        self._wait_rest_s = 0.0
        self._household = None if household is None else _scaled(household, household_db)
        self._household_at = 0
        self._drives: dict[Spot, Floats] = {}

    @property
    def rig(self) -> Rig:
        """What the keeper measured and wrote down."""
        return self._installation.rig

    @property
    def full_scale_offset_db(self) -> float:
        """Decibels from dB re full scale to dB re 20 µPa, as a calibration of this microphone would find them."""
        return self._cabinet.full_scale_offset_db

    def listen(self, seconds: float) -> Samples:
        """Let ``seconds`` pass and return what the microphone recorded: float32 in [-1, 1], one unbroken stream."""
        wanted = self._samples_in(seconds)
        parts = [self._rest]
        have = len(self._rest)
        driven: list[dict[Spot, Floats]] = []
        while have < wanted:
            steps = min(_CHUNK_STEPS, -(-(wanted - have) // self._step))
            drives = drives_of(self._installation, self._plant.advance(steps))
            driven.append(drives)
            parts.append(self._cabinet.hear(drives, self._household_part(steps * self._step)))
            have += len(parts[-1])
        stream = np.concatenate(parts)
        self._rest = stream[wanted:]
        if driven:
            self._drives = {spot: np.concatenate([d[spot] for d in driven]) for spot in driven[0]}
        return stream[:wanted]

    def hold(self, place: Place, seconds: float, *, cup: bool = False) -> Samples:
        """Carry the microphone to a place, hold it there, and return what it recorded meanwhile: float32 in [-1, 1].

        The way takes some seconds, in which the water runs on unheard. With ``cup`` it is pressed against the pipe.
        """
        wanted = self._samples_in(seconds)
        if self._nearby is None:
            self._nearby = Nearby(self._cabinet, sample_rate=self.sample_rate, seed=self._scan_seed)
        self.wait(self._nearby.way_s())
        held = self._nearby.held(place, cup=cup)
        lead = round(held.settle_s / STEP_S)
        steps = lead + -(-wanted // self._step)
        drives = drives_of(self._installation, self._plant.advance(steps))
        heard = self._cabinet.hear_near(drives, self._household_part(steps * self._step), held)
        self._rest = self._rest[:0]
        self._drives = {spot: drive[lead:] for spot, drive in drives.items()}
        return heard[lead * self._step :][:wanted]

    def wait(self, seconds: float) -> None:
        """Let ``seconds`` pass unheard."""
        self._samples_in(seconds)
        self._wait_rest_s += seconds
        steps = int(self._wait_rest_s / STEP_S + 1e-9)
        self._wait_rest_s -= steps * STEP_S
        if steps:
            self._rest = self._rest[:0]
            self._plant.advance(steps)

    def move(self, control: Control, amount: float) -> float:
        """Turn a control by ``amount`` turns, degrees or percent (+ opens, + speeds up); return what it really did."""
        settings, done = self._hand.move(self._plant.settings, control, amount)
        self._plant.set(settings)
        return done

    def pumps(self, on: bool) -> None:
        """Cut the power of the pumps, or restore it."""
        self._plant.power(on)

    def floor(self, seconds: float) -> Samples:
        """Return what the microphone hears of the room alone; the water stands still meanwhile."""
        wanted = self._samples_in(seconds)
        return self._cabinet.hear_room(-(-wanted // self._step))[:wanted]

    @property
    def drives(self) -> dict[Spot, Floats]:
        """What was driven during the last ``listen``, for benches: one value per control step of 0.05 s."""
        return self._drives

    @property
    def truth(self) -> Truth:
        """The truth now, for benches."""
        return truth_of(self._installation, self._plant, self._cause)

    @property
    def cabinet(self) -> Cabinet:
        """The sound side, for benches and for the drawing of cases."""
        return self._cabinet

    @property
    def plant(self) -> Plant:
        """The water side, for benches and for the drawing of cases."""
        return self._plant

    @property
    def installation(self) -> Installation:
        """The installation, at the settings that it started from, for benches."""
        return replace(self._installation, settings=self._plant.settings)

    @property
    def _step(self) -> int:
        return self.sample_rate // 20

    def _samples_in(self, seconds: float) -> int:
        if not 0.0 <= seconds < 1e6:
            raise ConfigError(f"seconds={seconds} must be at least 0 and finite: a length of time to listen or wait")
        return round(seconds * self.sample_rate)

    def _household_part(self, n: int) -> Floats | None:
        if self._household is None:
            return None
        at = (self._household_at + np.arange(n)) % len(self._household)
        self._household_at = (self._household_at + n) % len(self._household)
        return self._household[at]


def _scaled(samples: Samples, level_db: float) -> Floats:
    values = np.asarray(samples, dtype=np.float64)
    rms = float(np.sqrt(np.mean(values**2))) if values.size else 0.0
    if values.ndim != 1 or not rms > 0.0:
        raise ConfigError("household=... must be a row of samples that are not all zero: mono sound")
    scaled: Floats = values * (_REFERENCE_PA * 10.0 ** (level_db / 20.0) / rms)
    return scaled
