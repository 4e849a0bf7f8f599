"""Listener: the streaming ears with the model, the events and the reading; and one window heard at once."""

from __future__ import annotations

from collections import deque
from copy import deepcopy

import numpy as np
from numpy.typing import NDArray

from tuner.errors import ConfigError
from tuner.rig import Rig
from tuner.signatures.catalogue import SIGNATURES, gates
from tuner.signatures.ears import LOOK_S, Ears, Look, columns_of
from tuner.signatures.events import EventTracker
from tuner.signatures.model import AHEAD, Judge, SignatureModel, load_model
from tuner.signatures.reading import Window, make_reading
from tuner.signatures.taught import Recall, Templates, moved, recall, suited
from tuner.sound.frames import Framer
from tuner.sound.levels import LevelMeter, measure_levels
from tuner.sound.rounding import refuse_rounded
from tuner.sound.texture import THIRD_CENTRES_HZ
from tuner.terms import SOUND_KINDS, Floor, Levels, Moment, Reading, Sound, SoundKind

LONGEST_WINDOW_S = 20 * 60
SHORTEST_WINDOW_S = 1.5


class Listener:
    """Listen to a stream.

    ``feed`` takes mono samples of any length, float in [-1, 1], and returns the sounds that have just ended;
    ``moments`` gives what was heard half second by half second since it was last asked, each once the second after it
    was heard as well; ``reading`` sums up everything since the last ``reset`` (the last 20 minutes of it, at most).
    ``offset_db`` is the calibration (dB to add to dB re full scale), None when there is none. After a loss call
    ``gap``: nothing is glued.
    ``templates`` are what was taught of this rig; they are heard by beside the general model.

    Raises
    ------
    ConfigError
        When the templates hold too little, or were taught at a rate whose bands are others.
    """

    def __init__(
        self, sample_rate: int, rig: Rig | None = None, floor: Floor | None = None, *,
        offset_db: float | None = None, model: SignatureModel | None = None, templates: Templates | None = None,
    ) -> None:
        self.sample_rate = sample_rate
        self.rig = rig
        self.floor = floor
        self._offset_db = offset_db
        self._judge = Judge(model or load_model())
        self._recall = _recalled(templates, self._judge.model, sample_rate)
        self._order = columns_of(self._judge.model.features)
        self._framer = Framer(sample_rate)
        self._ears = Ears(sample_rate)
        self._meter = LevelMeter(sample_rate, offset_db)
        self._trackers = [EventTracker(s) for s in SIGNATURES[:-1]]
        self.reset()

    @property
    def latency_s(self) -> float:
        """Longest time (s) from a sample to the moment that holds it."""
        return (1 + AHEAD) * LOOK_S + self._framer.latency_s

    def reset(self) -> None:
        """Be as new: the next sample is at 0 s."""
        looks = int(LONGEST_WINDOW_S / LOOK_S)
        self._framer.reset()
        self._ears.reset()
        self._judge.reset()
        self._meter.reset()
        self._waiting: deque[Look] = deque()  # to be judged
        self._looks: deque[Look] = deque(maxlen=looks)
        self._probability: deque[NDArray[np.float64]] = deque(maxlen=looks)
        self._active: deque[tuple[bool, ...]] = deque(maxlen=looks)
        self._sounds: deque[Sound] = deque(maxlen=looks)
        self._new: deque[Moment] = deque(maxlen=looks)
        self._fed = 0
        self._dropped = 0
        self._known = 0.0
        self._judgements = 0
        for tracker in self._trackers:
            tracker.reset()

    def gap(self, dropped: int) -> tuple[Sound, ...]:
        """Say that ``dropped`` samples were lost here: sounds under way end, and nothing is glued across."""
        ended = self._end()
        self._fed += dropped
        self._dropped += dropped
        self._framer.reset(self._fed)
        self._ears.reset()
        return ended

    def feed(self, samples: NDArray[np.floating]) -> tuple[Sound, ...]:
        """Take the next samples and return the sounds that have just ended."""
        self._fed += len(samples)
        ended: list[Sound] = []
        for slab in self._framer.push(samples):
            self._meter.update(slab)
            for look in self._ears.push(slab):
                ended.extend(self._take(look))
        return tuple(ended)

    def flush(self) -> tuple[Sound, ...]:
        """End the stream: return the sounds that were still under way. The reading stays."""
        ended: list[Sound] = []
        for slab in self._framer.flush():
            self._meter.update(slab)
            for look in self._ears.push(slab):
                ended.extend(self._take(look))
        self._framer.reset(self._fed)
        self._ears.reset()
        return (*ended, *self._end())

    def moments(self) -> tuple[Moment, ...]:
        """Return the moments since the last call, oldest first."""
        new = tuple(self._new)
        self._new.clear()
        return new

    def levels(self) -> Levels:
        """Return the levels of everything since the last reset; raises ConfigError with less than one second of it."""
        return self._meter.levels()

    def reading(self) -> Reading:
        """Sum up everything since the last reset, sounds under way included.

        Raises
        ------
        ConfigError
            When fewer than 1.5 s were heard.
        """
        if (len(self._looks) + len(self._waiting)) * LOOK_S < SHORTEST_WINDOW_S - 1.0:
            heard_s = self._fed / self.sample_rate
            raise ConfigError(f"duration_s={heard_s:.2f} must be at least {SHORTEST_WINDOW_S:g} s: listen longer")
        trackers, sounds = deepcopy(self._trackers), [*self._sounds]
        probability, active = [*self._probability], [*self._active]
        for look, said in zip(self._waiting, self._judge.so_far(), strict=True):
            probability.append(self._recalled(look.features, said)[0])
            sounds.extend(self._tracked(trackers, look, probability[-1]))
            active.append(tuple(t.active for t in trackers))
        sounds.extend(s for t, kind in zip(trackers, SOUND_KINDS, strict=True) for s in t.under_way(kind))
        looks = (*self._looks, *self._waiting)
        window = Window(
            looks=looks, probability=np.stack(probability), active=np.array(active, dtype=bool),
            sounds=tuple(sorted(sounds, key=lambda s: (s.start_s, s.kind))), levels=self._meter.levels(),
            duration_s=self._fed / self.sample_rate, dropped=self._dropped, clipped=sum(look.clipped for look in looks),
        )
        return make_reading(window, floor=self.floor, offset_db=self._offset_db)

    @property
    def taught_share(self) -> float | None:
        """How much of what was heard since the last reset is like something taught, 0-1; None without templates."""
        return self._known / self._judgements if self._judgements else None

    def glance(self) -> dict[SoundKind, float] | None:
        """Return the probability of each kind now, before the next moment; None where there is no newer sound than it.

        It is for a screen that cannot wait for the next moment, and changes nothing.
        """
        features = self._ears.glance()
        if features is not None:
            probability, _ = self._recalled(features, self._judge.glance(features[self._order]))
        elif self._waiting:
            probability, _ = self._recalled(self._waiting[-1].features, self._judge.so_far()[-1])
        else:
            return None
        return {kind: float(p) for kind, p in zip(SOUND_KINDS, probability[:-1], strict=True)}

    def _recalled(
        self, features: NDArray[np.float64], said: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], float]:
        """Return the probability of each label, and how much the look is like something taught, 0-1.

        The probability is what the general model said, moved by what was taught of this rig.
        """
        if self._recall is None:
            return said * gates(features), 0.0
        likeness = self._recall.likeness(features)
        return moved(said, self._recall.shift(likeness)) * gates(features), 1.0 - float(likeness[-1])

    def _take(self, look: Look) -> list[Sound]:
        self._waiting.append(look)
        judged = self._judge.push(look.features[self._order])
        return [sound for said in judged for sound in self._decided(self._waiting.popleft(), said)]

    def _decided(self, look: Look, said: NDArray[np.float64]) -> list[Sound]:
        probability, known = self._recalled(look.features, said)
        self._judgements += self._recall is not None
        self._known += known
        ended = self._tracked(self._trackers, look, probability)
        self._looks.append(look)
        self._probability.append(probability)
        self._active.append(tuple(tracker.active for tracker in self._trackers))
        self._sounds.extend(ended)
        self._new.append(self._moment(look, probability))
        return ended

    def _tracked(
        self, trackers: list[EventTracker], look: Look, probability: NDArray[np.float64]
    ) -> list[Sound]:
        at = round(look.end / self.sample_rate / LOOK_S) - 2
        return [
            sound for tracker, kind, p in zip(trackers, SOUND_KINDS, probability[:-1], strict=True)
            for sound in self._levelled(tracker.push(float(p), look.level, at, kind))
        ]

    def _end(self) -> tuple[Sound, ...]:
        """Judge what waits, and end the sounds under way."""
        ended = [sound for said in self._judge.flush() for sound in self._decided(self._waiting.popleft(), said)]
        last = [
            s for t, kind in zip(self._trackers, SOUND_KINDS, strict=True) for s in self._levelled(t.flush(kind))
        ]
        self._sounds.extend(last)
        return (*ended, *last)

    def _levelled(self, sounds: tuple[Sound, ...]) -> tuple[Sound, ...]:
        if not self._offset_db:
            return sounds
        return tuple(
            Sound(s.kind, s.start_s, s.end_s, s.level_db + self._offset_db, s.confidence) for s in sounds
        )

    def _moment(self, look: Look, probability: NDArray[np.float64]) -> Moment:
        offset = self._offset_db or 0.0
        thirds = 10 * np.log10(look.thirds + 1e-20) + offset
        usable = self._ears.usable
        return Moment(
            start_s=look.end / self.sample_rate - LOOK_S, end_s=look.end / self.sample_rate,
            level_db=10 * float(np.log10(look.level + 1e-20)) + offset,
            third_octave_hz=tuple(f for f, u in zip(THIRD_CENTRES_HZ, usable, strict=True) if u),
            third_octave_db=tuple(float(v) for v in thirds[usable]),
            probability={kind: float(p) for kind, p in zip(SOUND_KINDS, probability[:-1], strict=True)},
            outside=float(probability[-1]), clipped=look.clipped,
        )


def _recalled(templates: Templates | None, model: SignatureModel, sample_rate: int) -> Recall | None:
    if templates is None:
        return None
    if reason := suited(templates, None, sample_rate):
        raise ConfigError(f"templates must suit the sound: {reason}")
    return recall(templates, model)


def read_window(
    samples: NDArray[np.floating], sample_rate: int, floor: Floor | None = None, *, rig: Rig | None = None,
    offset_db: float | None = None, templates: Templates | None = None,
) -> Reading:
    """Hear one window and sum it up: the stream read at once.

    Raises
    ------
    ConfigError
        When the samples are not one channel of finite floats, shorter than 1.5 s, digital silence throughout, or
        too quiet for their 16 bits.
    """
    samples = np.asarray(samples)
    if samples.ndim == 1 and samples.size and not np.any(samples):
        raise ConfigError("samples must not be digital silence throughout: check that the microphone is not muted")
    listener = Listener(sample_rate, rig, floor, offset_db=offset_db, templates=templates)
    listener.feed(samples)
    refuse_rounded(samples)
    listener.flush()
    return listener.reading()


def measure_floor(samples: NDArray[np.floating], sample_rate: int, *, offset_db: float | None = None) -> Floor:
    """Measure the room with the pumps off.

    Samples: mono, float in [-1, 1], at least 1.5 s. Half seconds disturbed by sudden sound (more than 6 dB over the
    quietest fifth) are counted out in ``clean_s`` and left out of the level where at least half remains.
    """
    levels = measure_levels(samples, sample_rate, offset_db)
    step = round(sample_rate * LOOK_S)
    whole = [samples[i : i + step] for i in range(0, len(samples) - step + 1, step)]
    power = np.array([float(np.mean(np.square(w, dtype=np.float64))) for w in whole]) + 1e-20
    clean = power <= 10**0.6 * np.quantile(power, 0.2)
    if not clean.all() and clean.mean() >= 0.5 and clean.sum() * LOOK_S >= SHORTEST_WINDOW_S:
        quiet = np.concatenate([w for w, ok in zip(whole, clean, strict=True) if ok])
        levels = measure_levels(quiet, sample_rate, offset_db)
    return Floor(levels=levels, duration_s=len(samples) / sample_rate, clean_s=float(clean.sum()) * LOOK_S)

