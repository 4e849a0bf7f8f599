"""The safety rules, above everything else that the coach decides. Every step passes ``make_safe`` last.

1.  While the emergency pipe carries water, or may well do so (a roar through ``ROAR_MUCH`` of the time), nothing is
    closed and nothing is sped up: first the pump is slowed, then the siphon is opened, then a person looks for a
    blockage. Where ``MOST_EMERGENCY`` such moves and that search left a roar and gulps as loud as they were, the roar
    is no longer taken for that pipe's, until it is silent, grows by closing, or water is seen to run there: gulps let
    the box sink far below its rim. Nor is one that is heard with the siphon further open than where it was silent,
    nothing else moved since (``proven``), where no water is seen to run: back there it may be closed, or by one finest
    step, but no further.
2.  The emergency pipe is never a control: no step restricts it.
3.  The siphon is never closed fully while pumps run: a closing move leaves at least ``LEAST_OPENING`` of its
    travel, counted from a cautious estimate of where it stands, and closing moves never add up to more than
    ``MOST_CLOSING`` of it.
4.  No single move is larger than its control's stated limit (``handwork``), and none closes more than
    ``MOST_CLOSED_AT_ONCE`` of what the siphon's valve may have open, or takes more than ``MOST_TAKEN_AT_ONCE`` of what
    the siphon carries: what it no longer takes must fit into the open channel, however wrong the belief is. While more
    than a little gurgle is heard, it is closed by no more than half the size to begin with (``Hand.first``). Nobody
    knows that valve yet: the first closing of all is no larger than that size, and takes no more than
    ``MOST_TAKEN_AT_FIRST``, and none is more than twice the largest before. Nor does one take more than that while
    anything else is heard beside gulps (a splash counts no longer once they returned in a cycle, or stayed as the
    siphon was opened), or beyond what was opened before; the first no more than ``MOST_TAKEN_IN_DOUBT``; and none is
    more than half of one after which the open channel gurgled, or the emergency pipe carried. But it may always be
    closed to where it was heard to be silent, with nothing else moved since (``proven``), and the sizes for a valve
    that nobody knows do not hold on the way back to where it stood before and not too much came (``known``). The siphon
    is closed to no setting at which the open channel gurgled much, unless less was heard of it there since. A pump that
    is sped up sends no more at once than a closing would.
5.  When moves made it worse twice in a row, the coach stops and says so.
6.  An open channel that flushes much of the time may be carrying, as a second siphon, what the siphon does not. Given
    air it would stop doing so, and the level would rise: the siphon is opened first, the tap only once
    ``OPENED_ENOUGH`` such moves have not ended it.
7.  While the open channel gurgles through ``GURGLE_MUCH`` of the time, it carries more than it should, whatever else is
    heard: nothing is closed and nothing sped up, which would send it more. The same holds while it flushes much of the
    time, and more than the siphon gulps, and where closing moves in a row made it no better, whatever it sounds like;
    and where what gulps never rests and is not heard alone, until the siphon was opened once, which tells, and where
    closing it has not just ended it or made it far quieter (a splash beside gulps counts for nothing once they returned
    in a cycle, which a full channel's noise does not).
    Where the siphon was opened again and again, and it gulps as before, what sounds like a full channel is not
    believed: what was opened is closed again, and nothing is opened or sped up, unless the emergency pipe may carry
    water. It is closed further than that only by one finest step, then two, four and so on, as long as no gurgle or
    roar comes of it, unless what is heard rests between its bouts, as gulps do and a full channel does not.
8.  Pumps are never stopped by a step: slowing leaves at least ``LEAST_SPEED_PERCENT`` and the speed at which enough
    still comes up to the tank (``slowest_percent``); where a person must stop them, the text says for how long, and
    ``LONGEST_PUMPS_OFF_S`` is the most.
9.  What the keeper saw in the box at a setting goes before what is heard there, until something is moved: with the
    water below the crest the other pipes are dry, and with the water over the elbow the open channel is sent no more
    (``situation``). A person who is asked to look is asked again at the next setting, so that one wrong answer leads to
    one move, of the sizes above.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from tuner.coach.handwork import Hand
from tuner.terms import Control, Step

LEAST_OPENING = 0.06
MOST_CLOSING = 0.6
MOST_CLOSED_AT_ONCE = 0.25
MOST_TAKEN_AT_ONCE, MOST_TAKEN_AT_FIRST, MOST_TAKEN_IN_DOUBT = 0.25, 0.12, 0.06
CLOSING_GROWTH = 2.0  # of the largest closing so far
LEAST_SPEED_PERCENT = 30.0
LONGEST_PUMPS_OFF_S = 600.0
EMERGENCY_MAYBE = 0.3
WORSE_LIMIT = 2
MOST_EMERGENCY = 4  # moves for it, after which a blockage is looked for, and twice that after which the coach ends
FLUSH_MUCH = 0.2  # of the time
FLUSH_QUICK_S = 10.0  # or returning as quickly as this
OPENED_ENOUGH = 3
GURGLE_MUCH = 0.3  # of the time: of 24 rigs that gulped, in sounds new to the ears, one seemed to gurgle as much
ROAR_MUCH = 0.3  # of the time


@dataclass(frozen=True, slots=True, kw_only=True)
class Situation:
    """What the rules need to know. ``emergency`` is the probability that the emergency pipe carries water.

    ``opening`` is the siphon valve's opening, 0-1, as small as it may well be; ``closed_so_far`` is the share of its
    travel by which it was closed since the coach began (negative: opened). ``speed_percent`` is the pump's speed now.
    ``worse_in_a_row`` counts moves that made it louder, one after the other. ``flushing_much`` tells of a flush that
    fills ``FLUSH_MUCH`` of the time or returns within ``FLUSH_QUICK_S``, ``opened_in_a_row`` counts the last moves that
    opened the siphon, one after the other. ``gurgling_much`` tells of a gurgle in ``GURGLE_MUCH`` of the time or more,
    ``gurgles_beside`` of more than a little of it, ``opened_too_far`` of a siphon that was opened and gulps steadily,
    ``flushing_most`` of a flush that fills ``FLUSH_MUCH`` of the time and more of it than gulps do, ``closed_in_vain``
    of noise that grew, or stayed, as it was closed, ``opened_in_vain`` of gulps that stayed as it was opened,
    ``may_be_full`` of gulps that never rest, beside which a full channel may be heard, before the siphon was opened at
    all, and where closing it has not just helped. Below ``slowest_percent`` of its speed the pump may send too little
    up.
    In the valve's unit, the siphon may be closed by ``room_to_close`` before it stands where the open channel gurgled
    much, and by ``most_closed`` before it may well take too much less; ``closed_most`` is the largest closing so
    far, and ``closed_ill`` the smallest after which it gurgled or the emergency pipe carried. By more than
    ``most_sped`` percent the pump may well send too much more. Closed by ``proven`` it stands where it was silent, by
    ``known`` where it stood before and not too much came.
    No field has a default: whoever asks the rules has thought of each.
    """

    emergency: float
    opening: float
    closed_so_far: float
    speed_percent: float
    worse_in_a_row: int
    flushing_much: bool
    opened_in_a_row: int
    gurgling_much: bool
    opened_too_far: bool
    gurgles_beside: bool
    flushing_most: bool
    closed_in_vain: bool
    opened_in_vain: bool
    may_be_full: bool
    slowest_percent: float
    room_to_close: float
    most_closed: float
    closed_most: float
    closed_ill: float
    most_sped: float
    proven: float
    known: float


def forbidden(step: Step, hand: Hand, now: Situation) -> str | None:
    """Return why ``step`` must not be done, or None when no rule speaks against it."""
    if step.amount == 0:
        return None
    if now.worse_in_a_row >= WORSE_LIMIT:
        return "the last moves made it worse each time"
    if sends_more(step.control, step.amount) and (reason := _against_sending_more(step, now)):
        return reason
    if step.control == "vent tap":
        return _at_the_tap(step, now)
    return _at_the_siphon(step, hand, now) if step.control == "siphon valve" else _at_the_pump(step, now)


def sends_more(control: Control, amount: float) -> bool:
    """Tell whether a move sends more water past the siphon: it closes the siphon, or speeds the pump up."""
    return (control == "siphon valve" and amount < 0) or (control == "return pump" and amount > 0)


def _against_sending_more(step: Step, now: Situation) -> str | None:
    if now.emergency >= EMERGENCY_MAYBE:
        return "nothing is closed and nothing sped up while the emergency pipe carries water"
    if step.control == "siphon valve" and -step.amount <= now.proven + 1e-9:
        return None
    if now.gurgling_much:
        return "a gurgling channel is not sent more water"
    if now.room_to_close <= 0.0:
        return "the open channel gurgled much with the siphon as far open as that"
    if now.closed_in_vain:
        return "closing the siphon made it no better"
    if now.may_be_full:
        return "what never rests may be a full channel: the siphon is opened a little first"
    return "a flushing channel is not sent more water" if now.flushing_most else None


def _at_the_tap(step: Step, now: Situation) -> str | None:
    if step.amount > 0 and now.flushing_much and now.opened_in_a_row < OPENED_ENOUGH:
        return "the siphon is opened before a tap that flushes much of the time"
    return None


def _at_the_siphon(step: Step, hand: Hand, now: Situation) -> str | None:
    share = -step.amount / hand.full
    if step.amount < 0 and now.opening - share < LEAST_OPENING:
        return "the siphon is never closed fully while the pumps run"
    if step.amount < 0 and now.closed_so_far + share > MOST_CLOSING:
        return "the siphon would be closed by more than half its travel"
    if step.amount > 0 and now.opened_in_vain and now.emergency < EMERGENCY_MAYBE:
        return "the siphon was opened again and again, and it gulps on"
    if step.amount > 0 and now.opened_too_far:
        return "a siphon that gulps after it was opened is not opened further"
    if step.amount > 0 and now.closed_so_far <= -1.0:
        return "the siphon was opened by its whole travel already"
    return None


def _at_the_pump(step: Step, now: Situation) -> str | None:
    if step.amount > 0 and now.opened_in_vain:
        return "the siphon, which was opened in vain, is closed again first"
    if step.amount < 0 and now.speed_percent + step.amount < max(LEAST_SPEED_PERCENT, now.slowest_percent) - 1e-9:
        return "the pump must keep the water moving for the animals"
    if now.speed_percent + step.amount > 100.0 + 1e-9:
        return "the pump already runs at its full speed"
    return None


def within_limit(step: Step, hand: Hand, now: Situation) -> Step:
    """Return ``step`` cut to the largest move that its control may make at once."""
    limit = hand.limit(step.amount)
    if step.control == "siphon valve" and step.amount < 0:
        most = min(MOST_CLOSED_AT_ONCE * now.opening * hand.full, now.room_to_close, now.most_closed)
        unknown = min(max(hand.first, CLOSING_GROWTH * now.closed_most), now.closed_ill / 2)
        unknown = min(unknown, hand.first / 2) if now.gurgles_beside else unknown
        most = min(most, max(unknown, now.known))
        limit = min(limit, max(_whole(most, hand), now.proven))
    if step.control == "return pump" and step.amount > 0:
        limit = min(limit, _whole(now.most_sped, hand))
    if abs(step.amount) <= limit + 1e-9:
        return step
    return replace(step, amount=limit if step.amount > 0 else -limit)


def _whole(size: float, hand: Hand) -> float:
    """Return ``size`` in whole finest steps, at least one."""
    return max(int(min(size, hand.full) / hand.finest + 1e-9), 1) * hand.finest


def make_safe(step: Step, hand: Hand, now: Situation) -> tuple[Step | None, str | None]:
    """Return the step within its limit, or None with the reason when a rule forbids it."""
    limited = within_limit(step, hand, now)
    reason = forbidden(limited, hand, now)
    return (None, reason) if reason else (limited, None)
