"""What a page is made of: the comparison, the sessions to be drawn, rig, clips; gathered from a logbook."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import zip_longest

import numpy as np

from tuner.errors import ConfigError, HushweirError, NothingBeforeError
from tuner.logbook.choosing import Chosen, End, choose, latest, numbered, part_of, session_words
from tuner.logbook.comparison import Comparison, compare
from tuner.logbook.rows import DatedMove, DatedNote, Gap, KeptClip, Proof, Session, later
from tuner.logbook.seconds import Seconds
from tuner.logbook.side import Part, Side, Stretch, stretch_of
from tuner.logbook.store import Logbook
from tuner.rig import Rig
from tuner.rigfile import rig_from_table

MOST_CLIPS = 12
MOST_CLIP_BYTES = 6_000_000  # a page that mail still takes
_PROOF_NEAR = timedelta(minutes=2)
_PROOFS_LOOKED_AT = 200


@dataclass(frozen=True, slots=True)
class Drawn:
    """One session as it is drawn: the part that counts, every second of it, the gaps, and what a proof said.

    ``whole`` is the session from its start to its end, ``moves`` what was done in it. ``proof`` is the confirmation or
    the rehearsed restart that it ended in.
    """

    stretch: Stretch
    whole: Stretch
    seconds: Seconds
    gaps: tuple[Gap, ...]
    moves: tuple[DatedMove, ...]
    proof: Proof | None

    @property
    def session(self) -> Session:
        """The session."""
        return self.stretch.part.session


@dataclass(frozen=True, slots=True)
class KeptSoundFile:
    """A clip with its FLAC content."""

    clip: KeptClip
    content: bytes


@dataclass(frozen=True, slots=True)
class Material:
    """Everything that a page tells.

    ``comparison`` and ``before`` are None when one session is told alone; ``after`` is the side that the page is about.
    Of a group of sessions the last one is drawn. ``clips_left_out`` counts kept clips that did not go in.
    """

    made: datetime
    comparison: Comparison | None
    side: Side
    before: Drawn | None
    after: Drawn
    moves: tuple[DatedMove, ...]
    notes: tuple[DatedNote, ...]
    tags: tuple[str, ...]
    rig: Rig | None
    clips: tuple[KeptSoundFile, ...]
    clips_left_out: int


def gather(
    logbook: Logbook, before: str | None, after: str | None, *, made: datetime, rng: np.random.Generator,
    same_setup: bool = False, alone: bool = False, with_clips: bool = True,
) -> Material:
    """Read what a page needs; the selections are those of ``choosing.choose``.

    A session is told alone when ``alone`` asks for it, when it is a rehearsed restart, and when no silent session by
    the same microphone can stand for a "before" that was not named.

    Raises
    ------
    ConfigError, LogbookError
        As ``choose``; ConfigError when ``alone`` comes with more than one session.
    """
    if before == "latest" and after is None:
        before = None
    single = _single(logbook, before, after)
    if alone and single is None:
        raise ConfigError("--alone must come with one session's number or none: it tells a single session")
    if single is not None and (alone or single[0].verb == "restart"):
        return _alone(logbook, part_of(logbook, *single), made, with_clips=with_clips)
    try:
        chosen = choose(logbook, before, after, only_alike=before != "silent")
    except NothingBeforeError:
        if single is None:
            raise
        session, end = single
        if not session.moves or end != "end":
            return _alone(logbook, part_of(logbook, session, end), made, with_clips=with_clips)
        chosen = choose(logbook, str(session.id), None)  # a first tuning has a before and an after of its own
    comparison = compare(
        chosen.before, chosen.after, moves=chosen.moves, notes=chosen.notes, restarts=chosen.restarts,
        same_setup=same_setup, rng=rng,
    )
    return _material(logbook, made, comparison, chosen, with_clips=with_clips)


def _single(logbook: Logbook, before: str | None, after: str | None) -> tuple[Session, End] | None:
    """Return the one session that is asked for, the latest where none is named; None when it is more than one."""
    if before is not None and after is not None:
        return None
    named = before if before is not None else after
    if named is None or named == "latest":
        return latest(logbook), "end"
    return numbered(logbook, named)


def _material(
    logbook: Logbook, made: datetime, found: Comparison, chosen: Chosen, *, with_clips: bool
) -> Material:
    now = _drawn(logbook, chosen.after.stretches[-1])
    then = _drawn(logbook, chosen.before.stretches[-1])
    both = dict.fromkeys((then.session.id, now.session.id))
    clips, left = _clips(logbook, tuple(both)) if with_clips else ((), 0)
    tags = tuple(sorted({t for side in (chosen.before, chosen.after) for s in side.stretches
                         for t in s.part.session.tags}))
    notes = {(n.session, n.note.made, n.note.text): n for n in chosen.notes}
    for number in both:
        notes |= {(number, n.made, n.text): DatedNote(number, n) for n in logbook.notes(number)}
    ordered = tuple(sorted(notes.values(), key=lambda n: n.note.made))
    return Material(
        made, found, chosen.after, then, now, chosen.moves, ordered, tags, _rig(logbook, now.session), clips, left
    )


def _alone(logbook: Logbook, part: Part, made: datetime, *, with_clips: bool) -> Material:
    session, number = part.session, part.session.id
    stretch = _stretch(logbook, part, logbook.seconds(number))
    drawn = _drawn(logbook, stretch)
    clips, left = _clips(logbook, (number,)) if with_clips else ((), 0)
    notes = tuple(DatedNote(number, note) for note in logbook.notes(number))
    return Material(
        made, None, Side(session_words(part), (stretch,)), None, drawn, drawn.moves, notes, session.tags,
        _rig(logbook, session), clips, left,
    )


def _stretch(logbook: Logbook, part: Part, seconds: Seconds) -> Stretch:
    session = part.session
    floor = logbook.floor(session.floor_id) if session.floor_id is not None else None
    return stretch_of(part, seconds, logbook.sounds(session.id), logbook.diagnoses(session.id), floor)


def _drawn(logbook: Logbook, stretch: Stretch) -> Drawn:
    session = stretch.part.session
    seconds = logbook.seconds(session.id)
    whole = _stretch(logbook, Part(session, 0.0, float(session.seconds)), seconds)
    moves = tuple(
        DatedMove(session.id, later(session.started, m.done_s if m.done_s is not None else m.at_s), m)
        for m in logbook.moves(session.id) if m.done
    )
    return Drawn(stretch, whole, seconds, logbook.gaps(session.id), moves, _proof(logbook, session))


def _proof(logbook: Logbook, session: Session) -> Proof | None:
    """Return the proof that a session ended in; a confirmation that names no session is found by device and time."""
    own = [p for p in logbook.session_proofs(session.id) if p.kind in ("confirmation", "restart")]
    if own or session.verb != "confirm":
        return own[-1] if own else None
    end = later(session.started, float(session.seconds))
    near = (
        p for p in logbook.proofs("confirmation", device=session.device, newest=_PROOFS_LOOKED_AT)
        if p.session is None and session.started <= p.made <= end + _PROOF_NEAR
    )
    return next(near, None)


def _rig(logbook: Logbook, session: Session) -> Rig | None:
    """Return the rig as it was described in a session; None without one, or when this version cannot read it."""
    text = logbook.rig_text(session.id)
    if not text:
        return None
    try:
        return rig_from_table(tomllib.loads(text))
    except (HushweirError, tomllib.TOMLDecodeError):
        return None


def _clips(logbook: Logbook, sessions: tuple[int, ...]) -> tuple[tuple[KeptSoundFile, ...], int]:
    """Return the clips that fit, in turn by session so that no side crowds out the other, and how many did not."""
    by_session = [[c for c in logbook.clips(number) if logbook.clip_folder.file(c.file)] for number in sessions]
    in_turn = [clip for row in zip_longest(*by_session) for clip in row if clip is not None]
    taken: list[KeptSoundFile] = []
    used = 0
    for clip in in_turn:
        content = _content(logbook, clip, MOST_CLIP_BYTES - used)
        if content is not None and len(taken) < MOST_CLIPS:
            taken.append(KeptSoundFile(clip, content))
            used += len(content)
    order = {number: place for place, number in enumerate(sessions)}
    taken.sort(key=lambda kept: (order[kept.clip.session], kept.clip.start_s, kept.clip.id))
    return tuple(taken), len(in_turn) - len(taken)


def _content(logbook: Logbook, clip: KeptClip, most_bytes: int) -> bytes | None:
    """Return a clip's FLAC content; None when it is too long, cannot be read, or is no FLAC."""
    path = logbook.clip_folder.file(clip.file)
    try:
        if path is None or path.stat().st_size > most_bytes:
            return None
        content = path.read_bytes()
    except OSError:
        return None
    return content if content.startswith(b"fLaC") else None
