"""A noise among other sound, or in the midst of silence: whether it may be acted on at its first hearing.

Much of a household sounds like water for a second or two, and not all of it is told from water. While other sound has
been about lately, or when it has been silent since the last move, a noise that is neither plain nor regular is listened
for again before anything is turned; what comes back several times in a still room counts, however brief. It teaches the
belief all the same, with household sound reckoned in (``hearing_odds.LIVELY_ALARM``): a slow gulp that is held back is
not opened towards. In a lively room every window does, and a noise that the belief still takes for passing by is not
counted as a doubt.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from tuner.causes.facts import presence
from tuner.causes.rules import Silence
from tuner.coach.hearing_odds import returns
from tuner.coach.instructions import PASSED_BY
from tuner.terms import SOUND_KINDS, CauseName, Diagnosis, Reading, SoundKind

PLAIN_LIVELY, PLAIN_STILL = 0.8, 0.3  # presence from which a sound is beyond doubt
FAINT_DB = 1.0  # over the measured room: a window that stands no higher is never plain in the midst of silence
SURE = 1.0  # sum of a cause's probabilities over the doubtful hearings from which it is believed
HINT_LIVELY, HINT_STILL = 0.5, 0.05  # probability of a cause from which a hearing speaks for it at all
WORTH_SAYING = 0.8  # probability of a cause from which its passing by is said at the end
PASSING_QUIET = 0.35  # belief in silence from which a noise in a lively room is not taken for the drains'
LIVELY_S = 300.0  # for which a room counts as lively after other sound was heard
SPEAKING: dict[CauseName, tuple[SoundKind, ...]] = {
    "siphon over-open": ("slurp",), "siphon over-closed": ("gurgle",), "vent too wide": ("trickle",),
    "vent too closed": ("flush", "hiss"), "emergency carrying flow": ("roar",),
    "siphon not purged": ("gurgle", "slurp"), "outlet above water": ("splash",), "weir drop": ("splash",),
    "pump hum": ("hum", "rattle"), "pump drawing air": ("hiss", "trickle"), "return drawing air": ("hiss", "trickle"),
}  # the sounds without which a cause is not heard
COMING_BACK: tuple[SoundKind, ...] = ("gurgle", "slurp", "flush", "roar")  # no steady sound, and no stray drop
AGAIN_WITHIN_S = 80.0  # of listening, in which the same cause must be heard twice in a lively room
AGAIN_IN_SILENCE_S = 300.0  # the same in a still one: a slow cycle takes minutes
LOUD_DB, ALIKE_DB = 10.0, 8.0  # over the window's background: bouts that stand out, and that are the same again
ALIKE_WITHIN_S = 400.0  # of listening, in which bouts that are alike tell of a slow cycle
FAINT_SHARE, FAINT_FEWER = 0.6, 0.5  # of the hearings: held back since a move, and so much less of them before it
FAINT_HEARD = 5  # hearings from which that tells
MOST_DOUBTS = 15  # doubtful hearings between two moves, after which a quieter hour is asked for
OFTEN, OFTEN_TRACE = 3, 0.02  # doubtful hearings of a kind in that time, from this presence on, that are no chance


@dataclass(slots=True)
class Doubts:
    """What was heard in doubt since the last move; ``count`` is how many doubts there were, kept by the coach.

    ``over_room`` tells that the room was measured, ``was_silent`` that a window since the last move was silent.
    """

    over_room: bool
    count: int = 0
    was_silent: bool = False
    _listened_s: float = 0.0
    _lively_until_s: float = -1.0
    _held: set[float] = field(default_factory=set)
    _heard: int = 0
    _held_before: float = 1.0
    _bouts: list[tuple[float, float]] = field(default_factory=list)
    _recurs: bool = False
    _hints: list[tuple[float, dict[CauseName, float]]] = field(default_factory=list)
    _traces: list[tuple[float, frozenset[SoundKind]]] = field(default_factory=list)
    _plain: list[tuple[float, frozenset[SoundKind]]] = field(default_factory=list)
    _passed: dict[CauseName, None] = field(default_factory=dict)  # in the order in which they were first heard

    def is_doubtful(self, diagnosis: Diagnosis, silence: Silence) -> bool:
        """Note one listening, and tell whether what was heard must be heard again before it counts."""
        reading = diagnosis.reading
        self._listened_s += reading.duration_s
        self._heard += 1
        if reading.outside_share >= silence.other_sound:
            self._lively_until_s = self._listened_s + LIVELY_S
        lively = self.lively
        self._recurs = self._is_alike(reading, silence)
        if diagnosis.silent:
            self.was_silent = True
            return False
        if not (lively or self.was_silent):
            return False
        if not self._faint(reading) and is_plain(diagnosis, lively=lively):
            return False
        within_s = AGAIN_WITHIN_S if lively else AGAIN_IN_SILENCE_S
        lately = [hints for at_s, hints in self._hints if self._listened_s - at_s <= within_s]
        now = hints_of(diagnosis, HINT_LIVELY if lively else HINT_STILL)
        self._hints.append((self._listened_s, now))
        again = any(p + sum(h.get(c, 0.0) for h in lately) >= SURE for c, p in now.items())
        often = not lively and self._comes_often(reading)
        doubtful = not ((lately and again) or often or self._recurs)
        if doubtful:
            self._held.add(self._listened_s)
        return doubtful

    def _is_alike(self, reading: Reading, silence: Silence) -> bool:
        """Tell whether a bout stands out as far as some did before, whatever each was taken for: that is no chance.

        Not one in a window of which other sound fills much.
        """
        bouts = [h.excess_db for h in reading.heard if h.kind in COMING_BACK and h.share >= OFTEN_TRACE]
        loudest_db = max(bouts, default=0.0)
        if loudest_db < LOUD_DB or reading.outside_share >= silence.other_sound:
            return False
        self._bouts.append((self._listened_s, loudest_db))
        lately = [db for at_s, db in self._bouts if self._listened_s - at_s <= ALIKE_WITHIN_S]
        return sum(abs(db - loudest_db) <= ALIKE_DB for db in lately) >= OFTEN

    def _comes_often(self, reading: Reading) -> bool:
        """Tell whether a kind of sound is heard once more after some doubtful hearings of it in a short time."""
        now = frozenset(k for k in COMING_BACK if presence(reading, k) >= OFTEN_TRACE)
        self._traces.append((self._listened_s, now))
        lately = [kinds for at_s, kinds in self._traces if self._listened_s - at_s <= AGAIN_IN_SILENCE_S]
        return any(sum(kind in kinds for kinds in lately) >= OFTEN for kind in now)

    def is_passing(self, diagnosis: Diagnosis, quiet: float, believed: Mapping[CauseName, float]) -> bool:
        """Tell whether a noise in a lively room is most likely not the drains'; asked once of each listening.

        That is so where silence is likelier than it: ``quiet`` is the belief in silence, ``believed`` that in the
        regimes behind causes, with what was heard taken in. What is plain twice in short time counts all the same, and
        so do bouts that come again and again alike.
        """
        lately = {k for at_s, kinds in self._plain if self._listened_s - at_s <= AGAIN_WITHIN_S for k in kinds}
        plain = plain_kinds(diagnosis)
        self._plain.append((self._listened_s, plain))
        noise = believed.get(diagnosis.causes[0].name, 0.0) if diagnosis.causes else 0.0
        passing = quiet >= max(PASSING_QUIET, noise) and lately.isdisjoint(plain) and not self._recurs
        if passing:
            self._held.add(self._listened_s)
            self._passed.update(dict.fromkeys(hints_of(diagnosis, WORTH_SAYING)))
        return passing

    @property
    def held_back(self) -> int:
        """How many hearings since the last move were not acted on, as doubtful or as passing by."""
        return len(self._held)

    @property
    def remains(self) -> bool:
        """Whether there were so many doubts that it is no use to listen on; twice as many where a bout stood out."""
        return self.count > (2 if self._bouts else 1) * MOST_DOUBTS

    @property
    def came_faintly(self) -> bool:
        """Whether something is held back time and again since the last move, and far more often than before it."""
        share = self.held_back / max(self._heard, 1)
        return self._heard >= FAINT_HEARD and share >= max(FAINT_SHARE, self._held_before / FAINT_FEWER)

    def remark(self) -> str:
        """Return what is to be said of the clearest noises that passed by since the last move, empty when nothing."""
        return f"; {PASSED_BY.format(causes=' and '.join(self._passed))}" if self._passed else ""

    @property
    def lively(self) -> bool:
        """Whether other sound was about lately."""
        return self._listened_s <= self._lively_until_s

    def _faint(self, reading: Reading) -> bool:
        excess_db = reading.excess_db if self.over_room and self.was_silent else None
        return excess_db is not None and excess_db < FAINT_DB

    def moved(self) -> None:
        """Note a move: what was heard before it tells nothing of what is heard after it."""
        self.count = 0
        self.was_silent = False
        self._held_before, self._heard = self.held_back / max(self._heard, 1), 0
        self._held.clear()
        self._hints.clear()
        self._traces.clear()
        self._bouts.clear()
        self._plain.clear()
        self._passed.clear()


def is_plain(diagnosis: Diagnosis, *, lively: bool) -> bool:
    """Tell whether a sound fills so much of the window, or returns regularly.

    In a lively room it must be one that speaks for the best cause, and return more than once: a running tap that fills
    the window makes no slurp beside it plain.
    """
    reading = diagnosis.reading
    if not lively:
        regular = any(heard.period_s is not None for heard in reading.heard)
        return regular or any(presence(reading, kind) >= PLAIN_STILL for kind in SOUND_KINDS)
    return bool(plain_kinds(diagnosis))


def plain_kinds(diagnosis: Diagnosis) -> frozenset[SoundKind]:
    """Return the sounds that are plain in a lively room."""
    reading = diagnosis.reading
    speaking = SPEAKING.get(diagnosis.causes[0].name, ()) if diagnosis.causes else ()
    return frozenset(
        kind for kind in speaking if returns(reading.of(kind)) or presence(reading, kind) >= PLAIN_LIVELY
    )


def hints_of(diagnosis: Diagnosis, least: float) -> dict[CauseName, float]:
    """Return the causes that a doubtful hearing speaks for, from a least probability on, with their probabilities."""
    told = (c for c in diagnosis.causes if c.name not in ("unknown", "outside noise"))
    return {c.name: c.probability for c in told if c.probability >= least}
