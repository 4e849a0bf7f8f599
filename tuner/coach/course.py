"""The course of a session: what was moved, heard and said so far, and what follows from its order."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from itertools import accumulate, takewhile
from math import floor, inf

from tuner.causes.facts import presence
from tuner.coach.handwork import Hand
from tuner.coach.marks import Made, Mark
from tuner.coach.questions import EMERGENCY_DRY
from tuner.coach.safety import sends_more
from tuner.coach.signs import GURGLE_LITTLE, falls, overfull, rests, roaring_much
from tuner.coach.surface import LOOKS, Seen
from tuner.coach.wording import CLEAR_CHANGE_DB
from tuner.signatures.reading import PAUSES
from tuner.terms import CauseName, Control, Question, Reading, Step

WORSE_DB = 3.0  # a change below this is within the scatter of two windows
LOUDER_BY_CLOSING_DB, CLOSINGS = 5.0, 2  # growth over so many closing moves in a row, or more, that speaks against them
VAIN_CLOSINGS, GAIN = 3, 0.8  # closings in a row after which gulps must fill less than this share of the time before
OPENINGS, STILL_GULPS = 3, 0.1  # openings in a row after which it gulps so much of the time, and is hardly quieter
OPENED_FAR, STAYED_DB = 3.0, 1.0  # the same for openings in all, in sizes to begin with
OPENED_BEYOND = 6.0  # the same from which it is so whatever is heard beside: no roar is left that far open
GURGLE_TRACE, FLUSH_TRACE = 0.1, 0.1  # presence up to which it does not gurgle, or flush
LESS_REST, FAR_LESS_REST = 0.1, 0.25  # of the time in pauses, where the level grew by so much, and anyhow
MORE_OFTEN_DB = 2.0
COVERED_READINGS, FAR_LOUDER_DB = 2, 8.0  # in a row, each over what it was before the move
NO_EFFECT_MOVES = 4
NO_EFFECT_TRAVEL = 0.2  # of the whole travel, turned in those moves together
LONG_SETTLED_S = 1e6
GURGLING: tuple[CauseName, ...] = ("siphon over-closed", "emergency carrying flow")


@dataclass(slots=True)
class Course:
    """Counts and lists that grow with the session; ``levels_db`` and ``led`` have one value per unmasked reading.

    ``silent_s`` counts the clean seconds of silence, ``waited_s`` the seconds since the last move, ``settled_s`` those
    in which the box may have drained, ``unheard_s`` those since a gulp or flush, of the drains or not;
    ``covered_db`` has the levels of the readings since the last move that other sound covered, up to one that was not,
    ``seen_running`` tells that water was seen to run from the emergency pipe meanwhile, ``vainly`` that the siphon was
    opened again and again and gulps: what else is heard then is no open channel's. ``looks`` has the looks into the box
    that were answered, ``misheard`` tells that they showed a gurgle to be no full channel's. ``declined`` holds the
    controls and ways (-1, 1) that the keeper left out since the last move: a handle at its stop, or no wish to.
    ``unanswered`` tells that a question since the last reading got no answer; ``room_db`` is the lowest level that was
    heard in silence or between bouts.
    """

    moves: list[Made] = field(default_factory=list)
    levels_db: list[float] = field(default_factory=list)
    led: list[str] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    found: list[CauseName] = field(default_factory=list)
    asked: set[str] = field(default_factory=set)
    looks: list[Seen] = field(default_factory=list)
    instructed: set[CauseName] = field(default_factory=set)
    parkings: int = 0
    silent_s: float = 0.0
    unheard_s: float = 0.0
    settled_s: float = LONG_SETTLED_S
    waited_s: float = LONG_SETTLED_S
    worse_in_a_row: int = 0
    covered_db: list[float] = field(default_factory=list)
    seen_running: bool = False
    vainly: bool = False
    misheard: bool = False
    declined: set[tuple[Control, int]] = field(default_factory=set)
    unanswered: bool = False
    room_db: float = inf

    def heard(self, reading: Reading, leading: CauseName | None) -> None:
        """Note an unmasked reading and the cause that led in it, None in silence."""
        self.unanswered = False
        self.settled_s += reading.duration_s
        self.waited_s += reading.duration_s
        self.levels_db.append(reading.levels.laeq_db)
        self.led.append(leading or "silent")
        self.marks.append(Mark(
            len(self.moves), leading is None, reading.levels.laeq_db, presence(reading, "slurp"),
            presence(reading, "gurgle"), not self.misheard and overfull(reading, self.total("siphon valve")),
            reading.features.get(PAUSES), presence(reading, "splash"), roaring_much(reading, self.room_db),
            falls(reading), presence(reading, "flush"),
        ))
        if leading is None or rests(reading):
            self.room_db = min(self.room_db, reading.levels.la90_db)
        in_vain = self._opened_in_vain() or self._comes_more_by_opening()
        in_vain = (in_vain or (self.vainly and self._still_in_vain())) and not roaring_much(reading, self.room_db)
        self.vainly = in_vain or self._opened_beyond()
        self._uncovered()
        self.silent_s = self.silent_s + reading.clean_s if leading is None else 0.0

    def covered(self, reading: Reading) -> None:
        """Note a reading of which other sound covers most."""
        self.covered_db.append(reading.levels.laeq_db)

    def _uncovered(self) -> None:
        self.covered_db.clear()
        self.seen_running = False

    def looked(self, question_id: str, answer: str | None, odds: Mapping[CauseName, float]) -> Seen | None:
        """Note a question, its answer and what that adds to the causes; return what was seen of the box, if any."""
        self.asked.add(question_id)
        self.unanswered = not odds
        seen = Seen(question_id, len(self.moves), answer) if answer is not None and question_id in LOOKS else None
        if seen is not None:
            self.looks.append(seen)
            self.vainly &= not seen.reaches_elbow
            self.misheard = self._seen_dry() if seen.low else self.misheard and not seen.reaches_elbow
        self.seen_running = question_id == EMERGENCY_DRY.id and odds.get("emergency carrying flow", 0.0) > 0.0
        return seen

    def _seen_dry(self) -> bool:
        """Take it back that the open channel was full with the siphon as far open as now, or further: it is dry.

        Return whether a gurgle was, or is, taken for a full channel's there. Then it is one nowhere but where it was
        seen, until eyes say so.
        """
        at, here = self.openings(), self.marks_at_this_speed()
        as_far = {mark.moves for mark in here if at[mark.moves] >= at[-1] - 1e-9}
        misheard = self.misheard or any(mark.overfull for mark in here if mark.moves in as_far)
        reached = {look.moves for look in self.looks if look.reaches_elbow}
        dry = as_far | ({mark.moves for mark in here} - reached if misheard else set())
        self.marks = [replace(m, overfull=False, roars=False) if m.moves in dry else m for m in self.marks]
        return misheard

    def seen(self) -> Seen | None:
        """Return what the last look into the box showed, None where something was moved since."""
        return next((look for look in self.looks[-1:] if look.moves == len(self.moves)), None)

    def named(self, cause: CauseName) -> None:
        """Note that a cause was named, once."""
        if cause not in self.found:
            self.found.append(cause)

    def moved(self, hand: Hand, amount: float, cause: CauseName | None, wait_s: float) -> None:
        """Note a move and the wait after it; a silence begins anew.

        A box that was gulping when it was moved stands low already, so it has nothing left to drain.
        """
        low = bool(self.led) and self.led[-1] == "siphon over-open"
        self.settled_s = LONG_SETTLED_S if low else wait_s
        self.waited_s = wait_s
        self.moves.append(Made(hand, amount, cause))
        self.declined.clear()
        if self.seen_running and self.covered_db:
            self.asked.discard(EMERGENCY_DRY.id)  # whether the move stopped it is for another look
        self._uncovered()
        self.silent_s = self.unheard_s = 0.0

    def total(self, control: Control) -> float:
        """Return by how much a control was moved altogether, signed."""
        return sum(m.amount for m in self.moves if m.hand.control == control)

    def openings(self) -> list[float]:
        """Return by how much the siphon had been opened after each number of moves, 0 at first, in the valve's unit."""
        turned = (made.amount if made.hand.control == "siphon valve" else 0.0 for made in self.moves)
        return list(accumulate(turned, initial=0.0))

    def marks_at_this_speed(self) -> list[Mark]:
        """Return what was heard since the pump was last moved, which makes all before it past."""
        since = self.since("return pump")
        return [mark for mark in self.marks if mark.moves >= since]

    def marks_here(self) -> list[Mark]:
        """Return what was heard since the last move."""
        return self._marks_after(len(self.moves))

    def _marks_after(self, moves: int) -> list[Mark]:
        """Return what was heard after so many moves and before the next."""
        return [mark for mark in self.marks if mark.moves == moves]

    def _last_turn(self) -> float:
        """Return by how much the last move turned the siphon's valve, 0 where it moved something else or nothing."""
        last = self.moves[-1] if self.moves else None
        return last.amount if last is not None and last.hand.control == "siphon valve" else 0.0

    def silent_before_last(self) -> bool:
        """Tell whether it was silent each time that it was listened to where the last move began."""
        before = self._marks_after(len(self.moves) - 1)
        return bool(before) and all(mark.silent for mark in before)

    def best(self) -> int | None:
        """Return after how many moves it was best: at the last setting that stayed silent, else at the quietest."""
        noisy = {m.moves for m in self.marks if not m.silent}
        silent = [m.moves for m in self.marks if m.silent and m.moves not in noisy]
        if silent:
            return silent[-1]
        return min(self.marks, key=lambda m: m.level_db).moves if self.marks else None

    def way_back(self) -> tuple[tuple[Control, float], ...]:
        """Return by how much each control is to be moved to stand where it was best, the last moved control first."""
        best = self.best()
        since: dict[Control, float] = {}
        for made in reversed(self.moves[best:] if best is not None else []):
            since[made.hand.control] = since.get(made.hand.control, 0.0) - made.amount
        return tuple((control, amount) for control, amount in since.items() if abs(amount) > 1e-9)

    def emergency_moves(self) -> int:
        """Return how many moves in a row were made for the emergency pipe, up to now."""
        return len(list(takewhile(lambda made: made.cause == "emergency carrying flow", reversed(self.moves))))

    def opened_in_a_row(self) -> int:
        """Return how many of the last moves opened the siphon, one after the other."""
        return len(list(takewhile(
            lambda made: made.hand.control == "siphon valve" and made.amount >= 0, reversed(self.moves)
        )))

    def was_opened(self) -> bool:
        """Tell whether the siphon was opened by any move."""
        return any(made.hand.control == "siphon valve" and made.amount > 0 for made in self.moves)

    def closed_in_vain(self) -> bool:
        """Tell whether the last moves all closed the siphon, and it grew clearly louder or gulps as much as before.

        A siphon that takes too much takes less with each; what grows, or stays, is the open channel's, and so is what
        rests clearly less by one, or began with one in silence, unless it is nothing but gulps that rest: a slow cycle
        may have been missed. Closings that take back what was opened do not count for what stays.
        """
        if self._began_by_closing() or self._rests_less(opened=False):
            return True
        closings, at = 0, self.total("siphon valve")
        for made in reversed(self.moves):
            if made.hand.control != "siphon valve" or made.amount > 0 or at >= 0.0:
                break
            closings += 1
            at -= made.amount
        before = self._marks_after(len(self.moves) - closings)
        if closings < CLOSINGS or not before:
            return False
        louder = self.marks[-1].level_db - before[-1].level_db >= LOUDER_BY_CLOSING_DB
        as_much = self.marks[-1].gulps > 0.0 and self.marks[-1].gulps >= GAIN * before[-1].gulps
        return louder or (closings >= VAIN_CLOSINGS and as_much)

    def _began_by_closing(self) -> bool:
        heard = self._marks_after(len(self.moves))
        if not heard or self._last_turn() >= 0.0 or not self.silent_before_last():
            return False
        now = heard[-1]
        only_gulps = now.rests and now.gulps > 0.0 and now.gurgles <= GURGLE_TRACE
        return not now.silent and not only_gulps

    def closed_ill(self) -> float:
        """Return the smallest closing of the siphon after which the open channel gurgled, or worse; else infinity.

        Not one that took back what was opened, and none before which it did so as well: that was closed too far before.
        """
        at, smallest = self.openings(), inf
        for i, made in enumerate(self.moves):
            if made.hand.control == "siphon valve" and made.amount < 0 and at[i + 1] < -1e-9:
                before, after = (any(m.too_much for m in self._marks_after(moves)) for moves in (i, i + 1))
                if after and not before:
                    smallest = min(smallest, -made.amount)
        return smallest

    def _gulps_since_turns(self) -> list[int]:
        """Return the places of the moves that turned the siphon's valve, none where it does not gulp on since them."""
        turned = [i for i, made in enumerate(self.moves) if made.hand.control == "siphon valve"]
        return turned if self.marks[-1].gulps >= STILL_GULPS else []

    def _opened_in_vain(self) -> bool:
        """Tell whether the siphon was opened several times in a row, or far in all, and it gulps and is hardly quieter.

        An open channel that carries too much carries less with each.
        """
        turned = self._gulps_since_turns()
        if not turned:
            return False
        last = turned[-OPENINGS:]
        in_a_row = len(last) == OPENINGS and all(self.moves[i].amount > 0 for i in last)
        far = self.total("siphon valve") >= OPENED_FAR * self.moves[turned[0]].hand.first
        return (in_a_row and self._as_loud_as_before(last[0], WORSE_DB)) or (
            far and self._as_loud_as_before(turned[0], STAYED_DB)
        )

    def _opened_beyond(self) -> bool:
        """Tell whether the siphon stands so far open that it must draw air, and it gulps and is no quieter for it."""
        turned = self._gulps_since_turns()
        if not turned:
            return False
        beyond = self.total("siphon valve") >= OPENED_BEYOND * self.moves[turned[0]].hand.first
        return beyond and self._as_loud_as_before(turned[0], WORSE_DB)

    def _as_loud_as_before(self, move: int, within_db: float) -> bool:
        """Tell whether it is not quieter by more than so much than before a move, by its place."""
        before = [mark.level_db for mark in self.marks if mark.moves <= move]
        return bool(before) and self.marks[-1].level_db > before[-1] - within_db

    def _comes_more_by_opening(self) -> bool:
        """Tell whether what comes and goes rests clearly less since the last move, which opened the siphon, or began.

        Gulps come the more often the further the siphon is open; an open channel that flushes is given less water by
        it and flushes less often.
        """
        now = self.marks[-1]
        began = self._last_turn() > 0.0 and self.silent_before_last() and not now.silent and now.rests
        return began or self._rests_less(opened=True)

    def _rests_less(self, *, opened: bool) -> bool:
        """Tell whether what came and went rests clearly less since the last move, which opened or closed the siphon."""
        heard = self._marks_after(len(self.moves))
        rested = [mark for mark in self._marks_after(len(self.moves) - 1) if mark.rests]
        turn = self._last_turn()
        if not heard or not rested or turn == 0.0 or (turn > 0.0) != opened:
            return False
        before, now = rested[-1], heard[-1]
        if before.pauses is None or now.pauses is None:
            return False
        less, louder_db = before.pauses - now.pauses, now.level_db - before.level_db
        if not opened and now.falls and louder_db <= -WORSE_DB:
            return False  # the gulps have ceased, and what is left falls into a box that still stands low
        # what comes more often by opening is the louder for it; a faint noise that never rests is another one
        far = less >= FAR_LESS_REST and (not opened or louder_db >= 0.0)
        return far or (less >= LESS_REST and louder_db >= MORE_OFTEN_DB)

    def _still_in_vain(self) -> bool:
        """Tell whether a siphon that was opened in vain gulps on, and stands wider than it did or rests between."""
        now = self.marks[-1]
        gulps = now.gulps > 0.0 and not now.silent
        return gulps and (self.total("siphon valve") > 0.0 or now.rests) and not self.closed_in_vain()

    def room_to_close(self) -> float:
        """Return by how much the siphon may be closed and stay wider than where its open channel last gurgled much.

        In the valve's unit, whole finest steps, 0 or less where it may not; infinite where it never did. What was heard
        since with hardly any gurgle at such a setting, or beside it and not clearly quieter, speaks against it: what
        grows by closing is the channel's. A pump that was moved makes all of it past, air that was given what
        flushed. What was opened in vain may be
        taken back but for a step, and further by one at a time; without limit where what is heard rests between bouts,
        or the channel was seen dry.
        """
        at = self.openings()
        finest = next((made.hand.finest for made in self.moves if made.hand.control == "siphon valve"), 1.0)
        widest, level_db = -inf, -inf
        taps = (i + 1 for i, made in enumerate(self.moves) if made.hand.control == "vent tap" and made.amount > 0)
        aired = max(taps, default=0)
        for mark in self.marks_at_this_speed():
            if mark.moves < aired and mark.flushes > FLUSH_TRACE:
                continue
            if mark.overfull and at[mark.moves] >= widest:
                widest, level_db = at[mark.moves], mark.level_db
            elif mark.gurgles <= GURGLE_LITTLE and at[mark.moves] <= widest + finest + 1e-9:
                as_loud = mark.level_db > level_db - CLEAR_CHANGE_DB
                widest = -inf if as_loud or at[mark.moves] <= widest else widest
        if self.vainly:
            seen = self.seen()
            sure = self.marks[-1].rests or (seen is not None and seen.low)
            return inf if sure else max(at[-1] - finest, finest)
        return finest * (floor((at[-1] - widest) / finest + 1e-9) - 1) if widest > -inf else inf

    def since(self, *controls: Control) -> int:
        """Return the number of moves after which none of these controls was moved any more."""
        return max((i + 1 for i, made in enumerate(self.moves) if made.hand.control in controls), default=0)

    def loud_since_closing(self) -> bool:
        """Tell whether other sound has covered everything since a move that sends more past the siphon, far louder.

        It may be the emergency pipe, whatever it sounds like: such a move is taken back.
        """
        if len(self.covered_db) < COVERED_READINGS or not self.marks or not self.moves:
            return False
        last = self.moves[-1]
        before = [mark.level_db for mark in self.marks if mark.moves < len(self.moves)]
        louder = bool(before) and min(self.covered_db) - before[-1] >= FAR_LOUDER_DB
        return louder and sends_more(last.hand.control, last.amount)

    def left_out(self, step: Step | Question | None, done: float) -> None:
        """Note a step of which nothing was ``done``, if it was one that moves."""
        if isinstance(step, Step) and step.amount and not done:
            self.declined.add((step.control, 1 if step.amount > 0 else -1))

    def slowed_lately(self) -> bool:
        """Tell whether the pump was slowed in one of the last two moves."""
        return any(m.hand.control == "return pump" and m.amount < 0 for m in self.moves[-2:])

    def without_effect(self) -> Control | None:
        """Return the control that was turned far one way while a gurgle or roar stayed just as loud, if any.

        The loudness of those follows the flow; a slurp or a trickle can stay as loud over a long way.
        """
        recent = self.moves[-NO_EFFECT_MOVES:]
        levels, led = self.levels_db[-NO_EFFECT_MOVES - 1:], set(self.led[-NO_EFFECT_MOVES - 1:])
        if len(recent) < NO_EFFECT_MOVES or len(levels) <= NO_EFFECT_MOVES or len(led) > 1 or not led & set(GURGLING):
            return None
        one_way = len({(m.hand.control, m.amount > 0) for m in recent}) == 1
        far = abs(sum(m.amount for m in recent)) >= NO_EFFECT_TRAVEL * recent[0].hand.full
        still = max(levels) - min(levels) < CLEAR_CHANGE_DB
        return recent[0].hand.control if one_way and far and still else None


def is_worse(before: Reading, after: Reading) -> bool:
    """Tell whether a move made it worse: the emergency pipe began to roar, or the same noise grew clearly louder."""
    if presence(after, "roar") >= 0.3 > presence(before, "roar"):
        return True
    same = {h.kind for h in after.heard} & {h.kind for h in before.heard}
    return after.levels.laeq_db - before.levels.laeq_db > WORSE_DB and bool(same)
