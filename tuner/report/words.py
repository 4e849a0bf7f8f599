"""What the page says in words: the first sentence of a session told alone, its verdict, and what that rests on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from tuner.logbook.rows import DatedMove, KeptDiagnosis
from tuner.logbook.soundchange import SoundRate
from tuner.plain import plain
from tuner.report.material import Drawn
from tuner.saying import count_text, duration_text, level_text, percent_text
from tuner.units import amount_text

_MOST_SOUNDS = 3
_AS_THE_ROOM_DB = 0.05  # what is shown with one decimal as 0.0
CAUTIONS: tuple[str, ...] = (
    "Silence is no proof against floods, and a computed margin is no test: do the power-cut test and the blocked-siphon"
    " test once, attended, with a hand at the pump's switch, and again after every change.",
    "The emergency pipe stays open, dry and without a valve. Never close the siphon fully while pumps run.",
    "Mains beside water: every circuit at the tank behind a residual-current device (30 mA, or a ground-fault"
    " interrupter of 4-6 mA), a drip loop in every cord, plugs pulled before hands go into the water.",
    "Animals need flow: leave pumps off only for short times.",
    "Drains to the building, fixed wiring, backflow protection and automatic top-up are matters of local codes and of"
    " licensed trades.",
)


@dataclass(frozen=True, slots=True)
class VerdictWords:
    """A verdict: the word, how it was come by, what it rests on, and what it cannot show."""

    outcome: str
    how: str
    rests_on: tuple[str, ...]
    limits: tuple[str, ...]


def verdict_of(drawn: Drawn) -> VerdictWords:
    """Return a session's verdict: of the proof that it ended in, else of its last listening window."""
    if drawn.proof is not None:
        return (_confirmed if drawn.proof.kind == "confirmation" else _restarted)(drawn.proof.body)
    windows = drawn.stretch.diagnoses
    if not windows:
        return VerdictWords(
            "no verdict", "no window of listening came to its end here", (),
            ("whether it is silent: listen for half a minute or longer",),
        )
    last = windows[-1]
    silent = sum(w.silent for w in windows)
    how = f"by listening: {silent} of {len(windows)} listening window{'' if len(windows) == 1 else 's'} silent"
    limits: tuple[str, ...] = (
        "that it is silent with a stated confidence: that is what 'hushweir confirm' shows",
        "sounds at other times, at another place or with other settings of valve and pump",
    )
    if not drawn.session.calibrated:
        limits = (*limits, "how loud it is in dB(A) re 20 µPa: not calibrated, all levels are relative")
    if last.silent:
        return VerdictWords("silent", how, _silence(last, drawn), limits)
    if not last.causes:
        return VerdictWords("not silent", how, (), limits)
    cause = last.causes[0]
    return VerdictWords(
        "not silent", how, (f"{cause.name}, {percent_text(cause.probability)} sure", *cause.because), limits
    )


def _confirmed(body: dict[str, Any]) -> VerdictWords:
    """Return what a confirmation's JSON object says; what it lacks is left out."""
    how = "by a confirmation" + (f", at {100 * body['confidence']:.0f} %" if _number(body, "confidence") else "")
    rests = (*_texts(body, "heard"), *_texts(body, "why"), *_texts(body, "rests_on"))
    return VerdictWords(str(body.get("outcome", "not shown")), how, rests, _texts(body, "cannot_show"))


def _restarted(body: dict[str, Any]) -> VerdictWords:
    """Return what a rehearsed restart's JSON object says."""
    starts = body.get("starts")
    count = len(starts) if isinstance(starts, list) else 0
    return VerdictWords(
        "restarts by itself" if body.get("restarts_by_itself") is True else "restart not shown",
        f"by {count_text(count, 'rehearsed power cut')}, from sound alone", _texts(body, "findings"),
        ("that nothing can flood: watch each start yourself at least once",
         "a start after a longer time without pumps, or with another level in the sump"),
    )


def _texts(body: dict[str, Any], name: str) -> tuple[str, ...]:
    found = body.get(name)
    return tuple(x for x in found if isinstance(x, str)) if isinstance(found, (list, tuple)) else ()


def _number(body: dict[str, Any], name: str) -> bool:
    return isinstance(body.get(name), (int, float))


def _silence(window: KeptDiagnosis, drawn: Drawn) -> tuple[str, ...]:
    level = level_text(window.levels.laeq_db, drawn.session.calibrated)
    words = f"{level} in its last {duration_text(window.duration_s)}"
    if window.excess_db is not None:
        over = window.excess_db
        words += f", {over:.1f} dB over the room" if over >= _AS_THE_ROOM_DB else ", no louder than the room by itself"
    return (words, "no sound of the plumbing that would tell of a fault")


def sentence_alone(drawn: Drawn, rates: tuple[tuple[str, SoundRate], ...]) -> str:
    """Return in one sentence, without a full stop, what a session told alone came to."""
    verdict = verdict_of(drawn)
    laeq_db = laeq_of(drawn)
    at = "" if laeq_db is None else f" at {level_text(laeq_db, drawn.session.calibrated)}"
    first = verdict.rests_on[:1]
    if drawn.proof is not None and drawn.proof.kind == "restart":
        return "; ".join(first or (verdict.outcome,))
    if drawn.proof is not None:
        body = drawn.proof.body
        if verdict.outcome == "silent":
            if _number(body, "high_db") and _number(body, "confidence"):
                bound = f"{max(body['high_db'], 0.0):.1f} dB(A) over the room, {100 * body['confidence']:.0f} % sure"
                return f"confirmed silent{at}: at most {bound}"
            return f"confirmed silent{at}"
        head = "not shown to be silent" if verdict.outcome == "not shown" else verdict.outcome
        return "; ".join((f"{head}{at}", *first))
    if verdict.outcome != "not silent":
        return f"{verdict.outcome}{at}"
    heard = sorted(rates, key=lambda pair: -pair[1].share)[:_MOST_SOUNDS]
    sounds = [f"a {kind} is heard {percent_text(rate.share)} of the time" for kind, rate in heard]
    return "; ".join((f"not silent{at}", *sounds, *(f"most likely: {word}" for word in first)))


def laeq_of(drawn: Drawn) -> float | None:
    """Return the energy mean of the A-weighted levels (dB) of the undisturbed seconds; None without any."""
    power = drawn.stretch.power[:, 0]
    return float(10.0 * np.log10(power.mean() + 1e-30)) if power.size else None


def move_words(dated: DatedMove) -> str:
    """Return what was done, with the control and the way."""
    move = dated.move
    done = move.done if move.done is not None else move.amount
    ways = {"return pump": ("speed the return pump up by", "slow the return pump down by")}
    more, less = ways.get(move.control, (f"open the {plain(move.control)} by", f"close the {plain(move.control)} by"))
    return f"{more if done > 0 else less} {amount_text(done, move.unit)}"
