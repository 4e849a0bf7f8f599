"""The state that a screen draws: frozen, replaced as a whole, made by the loop and never by the screen."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, Protocol

from tuner.coach.gauge import Gauge
from tuner.coach.guide import Advice
from tuner.coach.summary import Summary
from tuner.screens.box import BoxHeights
from tuner.terms import Diagnosis, Question, Sound, SoundKind, Step

Phase = Literal["listening", "move", "question", "settling", "done"]
TRACE_S = 120  # more than the widest bar of a common terminal shows
SLICES = 400  # half seconds: as many columns


@dataclass(frozen=True, slots=True)
class MoveLine:
    """A move that was made: the step, what was done (0: declined), the level before, and what came ("": not known)."""

    step: Step
    done: float
    before_db: float | None
    after_db: float | None = None
    seen: str = ""


@dataclass(frozen=True, slots=True)
class Slice:
    """Half a second of the past: its third-octave levels (dB; none where sound was lost) and the kinds heard in it."""

    bands_db: tuple[float, ...] = ()
    kinds: tuple[SoundKind, ...] = ()


@dataclass(frozen=True, slots=True)
class Snapshot:
    """Everything that may be shown at one moment.

    ``left_s`` is the time until the phase ends (None: no end, or it waits for the keeper), ``told_s`` the end of the
    newest moment that was judged, a second or so ago: until then go ``trace_db``, one level a second, ``slices``, the
    newest half seconds with their bands ``bands_hz``, and ``heard``, the kinds with their probability, surest first.
    ``glimpse`` is a kind that seems to have begun since then, ``sounds`` the newest that
    ended and ``sound_count`` how many there were, ``window`` how many listening windows are over, ``notice`` what
    went wrong just now, ``typed`` what the keeper has typed so far. ``now_db`` is the level of the newest tenth of a
    second, ``advice`` what the guide says while a hand turns, ``gauge`` and ``box`` what is believed of the water,
    ``summary`` what it came to.
    """

    title: str
    source: str
    phase: Phase
    elapsed_s: float
    calibrated: bool
    session: int | None = None
    left_s: float | None = None
    told_s: float = 0.0
    level_db: float | None = None
    trace_db: tuple[float, ...] = ()
    floor_db: float | None = None
    heard: tuple[tuple[SoundKind, float], ...] = ()
    glimpse: tuple[SoundKind, float] | None = None
    outside: float = 0.0
    sounds: tuple[Sound, ...] = ()
    sound_count: int = 0
    window: int = 0
    diagnosis: Diagnosis | None = None
    step: Step | None = None
    question: Question | None = None
    moves: tuple[MoveLine, ...] = ()
    notice: str = ""
    typed: str = ""
    keys: str = ""
    bands_hz: tuple[float, ...] = ()
    slices: tuple[Slice, ...] = ()
    now_db: float | None = None
    advice: Advice | None = None
    gauge: Gauge | None = None
    box: BoxHeights | None = None
    summary: Summary | None = None
    is_paused: bool = False
    is_hands_free: bool = False


class Screen(Protocol):
    """Whatever shows snapshots: a live screen, or lines of text."""

    def show(self, snapshot: Snapshot, /) -> None:
        """Take the newest state; may be called from the loop's thread."""
        ...
