"""Signs: what the sounds of one reading say of the water, for the safety rules and the course of a session."""

from __future__ import annotations

from dataclasses import replace
from math import inf

from tuner.causes.facts import presence
from tuner.coach import safety
from tuner.coach.hearing_odds import PAUSED_AT, returns
from tuner.coach.shares import shifted
from tuner.signatures.reading import PAUSES
from tuner.terms import Diagnosis, Reading, SoundKind

GURGLE_LITTLE = 0.2  # presence up to which an open channel does not carry too much
GULPS_LITTLE = 0.03  # presence of gulps up to which it does not gulp
SPLASH_CLEAR = 0.2  # presence from which it splashes
GULPS_MUCH = 0.2  # presence of gulps from which the siphon is taken to draw air again and again
ROAR_OVER_DB = 6.0  # over the room, below which falling water is no emergency pipe's; a choice, no source
FAINT_ROAR_ODDS = -4.0  # added to that pipe's log-odds there
FULL_SOUNDS: tuple[SoundKind, ...] = ("gurgle", "roar")
FALLING: tuple[SoundKind, ...] = ("splash", "roar", "trickle")
BESIDE_GULPS: tuple[SoundKind, ...] = ("gurgle", "flush", "roar", "hiss", "trickle")
NEVER_RESTS = 0.2  # share of a window in pauses below which nothing in it came and went
FULLER_FROM = 0.1  # presence of a flush or roar from which the box may stand high all the same


def roaring_much(reading: Reading, room_db: float) -> bool:
    """Tell whether a roar fills so much of the time that the emergency pipe may carry water, whatever else is heard.

    Not where it flushes more, or gulps and rests between: the level that gulps make falls far below that pipe's rim.
    Nor where the window is hardly louder than the room was heard to be, ``room_db`` (infinite while it is not known):
    that pipe is loud.
    """
    roar = presence(reading, "roar")
    gulps = presence(reading, "slurp") >= FULLER_FROM and rests(reading)
    much = roar >= safety.ROAR_MUCH and roar > presence(reading, "flush")
    return much and not (gulps or is_faint(reading, room_db))


def without_faint_roar(diagnosis: Diagnosis, room_db: float) -> Diagnosis:
    """Return the diagnosis with the emergency pipe hardly believed where the window is hardly louder than the room."""
    if not diagnosis.causes or not is_faint(diagnosis.reading, room_db):
        return diagnosis
    return replace(diagnosis, causes=shifted(diagnosis.causes, {"emergency carrying flow": FAINT_ROAR_ODDS}))


def is_faint(reading: Reading, room_db: float) -> bool:
    """Tell whether a window is hardly louder than the room was heard to be; not while that is not known."""
    return room_db < inf and reading.levels.laeq_db < room_db + ROAR_OVER_DB


def gurgling_much(reading: Reading) -> bool:
    """Tell whether the open channel gurgles through so much of the time that it carries more than it should.

    A full channel never rests: where it is quiet between bouts, the gurgle is part of what comes and goes.
    """
    return presence(reading, "gurgle") >= safety.GURGLE_MUCH and not rests(reading)


def rests(reading: Reading) -> bool:
    """Tell whether it is quiet between bouts, as between gulps or flushes."""
    return reading.features.get(PAUSES, 0.0) >= PAUSED_AT


def falls(reading: Reading) -> bool:
    """Tell whether water is heard to fall, and neither gulps nor gurgles."""
    falling = max(presence(reading, kind) for kind in FALLING) >= FULLER_FROM
    return falling and presence(reading, "slurp") <= GULPS_LITTLE and presence(reading, "gurgle") <= GURGLE_LITTLE


def never_rests(reading: Reading) -> bool:
    """Tell whether what is heard goes on without a pause; not where its level hardly changes, or is not known."""
    return reading.features.get(PAUSES, PAUSED_AT) < NEVER_RESTS


def overfull(reading: Reading, opened: float) -> bool:
    """Tell whether the open channel gurgles much, where the siphon was opened by ``opened`` since the coach began.

    At first a gurgle counts whatever is beside it; after opening, a siphon that gulps makes it, and what was opened
    may be taken back.
    """
    return gurgling_much(reading) and not gulps_opened(reading, opened)


def gurgles_beside(reading: Reading, opened: float) -> bool:
    """Tell whether more than a little gurgle is heard, and not from a siphon that was opened and gulps."""
    return presence(reading, "gurgle") > GURGLE_LITTLE and not gulps_opened(reading, opened)


def cycle_s(reading: Reading) -> float | None:
    """Return the period (s) at which gulps return, None where they do not, or not often enough to tell."""
    gulps = reading.of("slurp")
    return gulps.period_s if gulps is not None and returns(gulps) else None


def may_be_full(reading: Reading, *, cycled: bool) -> bool:
    """Tell whether gulps are heard that never rest, and something beside them that a full channel sounds like.

    A splash may be one such, but not beside gulps that return in a cycle, or have ``cycled``: it fills their pauses.
    """
    beside = max(presence(reading, kind) for kind in FULL_SOUNDS)
    splash = 0.0 if cycled else presence(reading, "splash")
    return never_rests(reading) and max(beside, splash) >= FULLER_FROM


def gulps_alone(reading: Reading, *, told: bool) -> bool:
    """Tell whether gulps are heard and hardly anything else of the drains, and not without a pause.

    A splash fills the pauses: alone beside gulps it counts for none once it was ``told`` that they are gulps: they
    returned in a cycle, or the siphon was opened, which would have quieted a full channel.
    """
    beside = max(presence(reading, kind) for kind in BESIDE_GULPS)
    filled = never_rests(reading) and not (told and presence(reading, "splash") >= FULLER_FROM)
    return presence(reading, "slurp") > GULPS_LITTLE and beside < FULLER_FROM and not filled


def gulps_opened(reading: Reading, opened: float) -> bool:
    """Tell whether a siphon that was opened by ``opened`` since the coach began gulps dry."""
    return opened > 0 and gulps_dry(reading)


def gulps_dry(reading: Reading) -> bool:
    """Tell whether the siphon gulps so much that the box stands at its inlet, with no flush or roar beside it.

    The open channel is dry then, and a gurgle is the siphon's own.
    """
    fuller = max(presence(reading, "flush"), presence(reading, "roar")) >= FULLER_FROM
    return presence(reading, "slurp") >= GULPS_MUCH and not fuller and not never_rests(reading)


def flushing_most(reading: Reading) -> bool:
    """Tell whether the open channel flushes through much of the time, and more of it than the siphon gulps."""
    flush = presence(reading, "flush")
    return flush >= safety.FLUSH_MUCH and flush >= presence(reading, "slurp")


def flushing_much(reading: Reading) -> bool:
    """Tell whether the open channel flushes through so much of the time that it may carry what the siphon does not."""
    flush = reading.of("flush")
    if flush is None:
        return False
    quick = flush.period_s is not None and flush.period_s <= safety.FLUSH_QUICK_S
    return flush.share >= safety.FLUSH_MUCH or quick
