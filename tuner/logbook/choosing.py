"""Which sessions are compared: by number, by tag, the last silent one, or the latest.

A selection is a word: ``12`` (session 12 as it was left: after its last move), ``12:start`` (before its first move),
``12:whole``, ``tag:NAME`` (every session with that tag), ``silent`` (the last one that was silent before the other
side), ``latest``.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from tuner.errors import ConfigError, NothingBeforeError
from tuner.logbook.comparison import Restarts
from tuner.logbook.rows import DatedMove, DatedNote, KeptFloor, Session, Wanted
from tuner.logbook.side import Part, Side, Stretch, stretch_of
from tuner.logbook.store import Logbook

End = Literal["start", "end", "whole"]

LEAST_S = 16  # shorter sessions are no "latest" that anybody means
MOST_SECONDS = 100_000  # read on each side: more change no figure that is shown, and take their time
_RULE = "must be a session's number (12, 12:start, 12:end, 12:whole), tag:NAME, silent or latest"
_NOT_LISTENED = ("restart", "floor")
_RESTART_NEAR = timedelta(days=1)
_MOST_TAGS = 12


@dataclass(frozen=True, slots=True)
class Chosen:
    """Two sides, and what lies between them."""

    before: Side
    after: Side
    moves: tuple[DatedMove, ...]
    notes: tuple[DatedNote, ...]
    restarts: Restarts


def choose(logbook: Logbook, before: str | None, after: str | None, *, only_alike: bool = False) -> Chosen:
    """Return the two sides that are asked for.

    With ``before`` alone naming a session with moves, its start stands against its end. With neither, the last silent
    session stands against the latest; with one of them, the other is filled in the same way. With ``only_alike`` a side
    that was not named is filled in only by the same microphone with the same calibration.

    Raises
    ------
    ConfigError
        When a selection is none, names nothing, or both sides hold the same stretch.
    NothingBeforeError
        When nothing was named for "before" and no silent session can stand there.
    LogbookError
        When there is no such session.
    """
    if before is not None and after is None:
        alone = numbered(logbook, before)
        if alone is not None and alone[1] == "end" and alone[0].moves:
            before, after = f"{alone[0].id}:start", f"{alone[0].id}:end"
        elif alone is not None:
            before, after = "silent", before
        else:
            after = "latest"
    now = _parts(logbook, after or "latest", None)
    then = _parts(logbook, before or "silent", now[1][0].session, only_alike=only_alike)
    _refuse_same(then[1], now[1])
    sides = _side(logbook, *then), _side(logbook, *now)
    return _between(logbook, *sides)


def numbered(logbook: Logbook, word: str) -> tuple[Session, End] | None:
    """Return session and end of a selection by number, or None when it is of another kind."""
    found = re.fullmatch(r"(\d{1,18})(?::(start|end|whole))?", word.strip())
    if found is None:
        return None
    end: End = "start" if found[2] == "start" else "whole" if found[2] == "whole" else "end"
    return logbook.session(int(found[1])), end


def _parts(
    logbook: Logbook, word: str, other: Session | None, *, only_alike: bool = False
) -> tuple[str, list[Part]]:
    """Return a selection in words and as parts, in the order of time; ``other`` is the first of the other side."""
    by_number = numbered(logbook, word)
    if by_number is not None:
        part = part_of(logbook, *by_number)
        return session_words(part), [part]
    if word.strip().lower().startswith("tag:"):
        tag = word.strip()[4:].strip()
        parts = [part_of(logbook, session, "end") for session in _tagged(logbook, tag)]
        return f"tag {tag!r}, {len(parts)} session{'' if len(parts) == 1 else 's'}", parts
    if word.strip().lower() == "latest":
        part = part_of(logbook, latest(logbook), "end")
    elif word.strip().lower() == "silent":
        part = part_of(logbook, _last_silent(logbook, other, only_alike=only_alike), "end")
    else:
        raise ConfigError(f"selection={word!r} {_RULE}: 'hushweir log' lists the sessions")
    return session_words(part), [part]


def _tagged(logbook: Logbook, tag: str) -> list[Session]:
    known = [name for name, _ in logbook.tags()]
    name = tag if tag in known else next((k for k in known if k.casefold() == tag.casefold()), None)
    if name is None:
        listed = ", ".join(repr(k) for k in known[:_MOST_TAGS]) or "none so far: 'hushweir log tag' puts one on"
        raise ConfigError(f"tag={tag!r} must be on a session in {logbook.path}: there are {listed}")
    return sorted(logbook.sessions(wanted=Wanted(tag=name)), key=lambda s: s.started)


def latest(logbook: Logbook) -> Session:
    """Return the newest session that was listened to for a while; raises ConfigError when there is none."""
    for session in logbook.sessions():
        if session.verb not in _NOT_LISTENED and session.seconds >= LEAST_S:
            return session
    raise ConfigError(f"logbook {logbook.path} holds no session of {LEAST_S} s or more: begin with 'hushweir listen'")


def was_silent(session: Session) -> bool:
    """Tell whether a session ended in silence, by its outcome or its last listening window."""
    return session.outcome == "silent" or (session.last_silent is True and session.outcome not in ("audible",))


def _last_silent(logbook: Logbook, other: Session | None, *, only_alike: bool = False) -> Session:
    """Return the newest silent session of the same rig before ``other``, by the same microphone where there is one."""
    silent = [
        s for s in logbook.sessions()
        if was_silent(s) and s.verb not in _NOT_LISTENED and s.seconds >= LEAST_S
        and (other is None or ((s.started, s.id) < (other.started, other.id) and _maybe_same_rig(s, other)))
    ]
    alike = [s for s in silent if other is None or (s.device, s.calibrated) == (other.device, other.calibrated)]
    for session in alike if only_alike else (*alike, *silent):
        return session
    raise NothingBeforeError(
        f"logbook {logbook.path} holds no silent session before that: name two sessions, 'hushweir compare 3 7'"
    )


def _maybe_same_rig(one: Session, other: Session) -> bool:
    return one.rig_name == other.rig_name or not (one.rig_name and other.rig_name)


def part_of(logbook: Logbook, session: Session, end: End) -> Part:
    """Return the stretch of a session before its first move, after its last one, or the whole of it."""
    moves = [m for m in logbook.moves(session.id) if m.done] if session.moves and end != "whole" else []
    if not moves:
        return Part(session, 0.0, float(session.seconds))
    if end == "start":
        first = moves[0]
        return Part(session, 0.0, first.done_s if first.done_s is not None else first.at_s, "before its first move")
    last = moves[-1]
    done_s = last.done_s if last.done_s is not None else last.at_s
    settled_s = done_s + last.wait_s
    return Part(
        session, settled_s if session.seconds - settled_s >= LEAST_S else done_s, float(session.seconds),
        "after its last move",
    )


def session_words(part: Part) -> str:
    """Return a part in words: number, verb, date, which stretch."""
    s = part.session
    return f"session {s.id}, {s.verb}, {s.started.astimezone():%d %B %Y}" + (f", {part.words}" if part.words else "")


def _refuse_same(then: Sequence[Part], now: Sequence[Part]) -> None:
    for part in then:
        for other in now:
            if part.session.id == other.session.id and part.from_s < other.to_s and other.from_s < part.to_s:
                raise ConfigError(
                    f"session={part.session.id} must stand on one side only: name another, or its :start and :end"
                )


def _side(logbook: Logbook, words: str, parts: Sequence[Part]) -> Side:
    chosen = _spread(parts)
    floors: dict[int, KeptFloor | None] = {}
    stretches = tuple(_stretch(logbook, part, floors) for part in chosen)
    return Side(words, stretches, len(parts) - len(chosen))


def _spread(parts: Sequence[Part]) -> list[Part]:
    """Return as many parts as may be read, evenly spread."""
    total = sum(part.session.seconds for part in parts)
    if total <= MOST_SECONDS:
        return list(parts)
    most = max(1, int(len(parts) * MOST_SECONDS / total))
    return [parts[int((i + 0.5) * len(parts) / most)] for i in range(most)]


def _stretch(logbook: Logbook, part: Part, floors: dict[int, KeptFloor | None]) -> Stretch:
    session = part.session
    if session.floor_id is not None and session.floor_id not in floors:
        floors[session.floor_id] = logbook.floor(session.floor_id)
    calibration = logbook.proof(session.calibration_id) if session.calibration_id is not None else None
    return stretch_of(
        part, logbook.seconds(session.id), logbook.sounds(session.id), logbook.diagnoses(session.id),
        floors[session.floor_id] if session.floor_id is not None else None,
        calibration.body.get("unsure_db") if calibration else None,
    )


def _between(logbook: Logbook, before: Side, after: Side) -> Chosen:
    rigs = {s.part.session.rig_name for side in (before, after) for s in side.stretches}
    rig = next(iter(rigs)) if len(rigs) == 1 and rigs != {""} else None
    from_, to = (before.ended, after.began) if before.ended <= after.began else (before.began, after.ended)
    near = Wanted(since=min(before.began, after.began) - timedelta(days=1), until=to, rig_name=rig)
    moves = tuple(m for m in logbook.dated_moves(near) if from_ <= _done_at(m) <= to)
    notes = tuple(n for n in logbook.dated_notes(near) if from_ <= n.note.made <= to)
    return Chosen(before, after, moves, notes, _restarts(logbook, before, after, rig))


def _done_at(move: DatedMove) -> datetime:
    return move.made + timedelta(seconds=max(0.0, (move.move.done_s or move.move.at_s) - move.move.at_s))


def _restarts(logbook: Logbook, before: Side, after: Side, rig: str | None) -> Restarts:
    """Return the last rehearsed restart up to each side's end."""
    proofs = logbook.proofs("restart", rig_name=rig, newest=200)
    then = next((p for p in proofs if p.made <= before.ended), None)
    now = next((p for p in proofs if before.ended < p.made <= after.ended + _RESTART_NEAR), None)
    times = [
        [start["catches_s"] for start in proof.body.get("starts", [])] if proof else [] for proof in (then, now)
    ]
    caught = [tuple(float(t) for t in side if t is not None) for side in times]
    return Restarts(caught[0], times[0].count(None), caught[1], times[1].count(None))
