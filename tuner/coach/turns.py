"""What turning the siphon's valve did: what follows from the order of moves and of what was heard after each."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate, takewhile
from math import floor, inf, log10

from tuner.coach.marks import Made, Mark
from tuner.coach.signs import GURGLE_LITTLE, SPLASH_CLEAR
from tuner.coach.wording import CLEAR_CHANGE_DB
from tuner.terms import Control

WORSE_DB = 3.0  # a change below this is within the scatter of two windows
LOUDER_BY_CLOSING_DB, CLOSINGS = 5.0, 2  # growth over so many closing moves in a row, or more, that speaks against them
VAIN_CLOSINGS, GAIN = 3, 0.8  # closings in a row after which gulps must fill less than this share of the time before
VAINLY_FAR = 1.5  # of how much in all, in sizes to begin with: less may tell nothing
OPENINGS, STILL_GULPS = 3, 0.1  # openings in a row after which it gulps so much of the time, and is hardly quieter
OPENED_FAR, STAYED_DB = 3.0, 1.0  # the same for openings in all, in sizes to begin with
FAR_APART, CLOSED_FAR = 1.5, 3.0  # settings, in the same sizes: where a level tells; from where it began
OPENED_BEYOND = 6.0  # the same from which it is so whatever is heard beside: no roar is left that far open
GURGLE_TRACE, FLUSH_TRACE = 0.1, 0.1  # presence up to which it does not gurgle, or flush
LESS_REST, FAR_LESS_REST = 0.1, 0.25  # of the time in pauses, where the level grew by so much, and anyhow
MORE_OFTEN_DB = 2.0
FAR_QUIETER_DB = 6.0  # by a closing: no full channel's
CONTROLS: tuple[Control, ...] = ("siphon valve", "vent tap", "return pump")
SLOWER = 1.2  # times the period before, from which gulps come clearly more seldom


@dataclass(frozen=True, slots=True)
class Turns:
    """The moves that were made and what was heard after each, in their order."""

    moves: Sequence[Made]
    marks: Sequence[Mark]

    def total(self, control: Control) -> float:
        """Return by how much a control was moved altogether, signed."""
        return sum(m.amount for m in self.moves if m.hand.control == control)

    def openings(self) -> list[float]:
        """Return by how much the siphon had been opened after each number of moves, 0 at first, in the valve's unit."""
        return self.places("siphon valve")

    def places(self, control: Control) -> list[float]:
        """Return by how much a control had been moved after each number of moves, 0 at first, in its unit."""
        turned = (made.amount if made.hand.control == control else 0.0 for made in self.moves)
        return list(accumulate(turned, initial=0.0))

    def noisy_ways(self, control: Control) -> list[float]:
        """Return how far a control is from each setting that was noisy when last heard, nothing else moved since."""
        since = self.since(*(c for c in CONTROLS if c != control))
        at = self.places(control)
        return [at[moves] - at[-1] for moves in self._left_noisy() if moves >= since]

    def _left_noisy(self) -> list[int]:
        """Return the numbers of moves after which it was noisy when last heard before the next."""
        last = {mark.moves: mark for mark in self.marks}
        return [moves for moves, mark in last.items() if not mark.silent]

    def times_noisy_here(self) -> int:
        """Return how often it was left noisy where all controls stand now, this time among them."""
        at = [(self.places(control), self._finest(control) / 2) for control in CONTROLS]
        return sum(all(abs(p[moves] - p[-1]) < near for p, near in at) for moves in self._left_noisy())

    def noisy_on_both_sides(self) -> bool:
        """Tell whether it was noisy with the last moved control further one way and the other, nothing else moved."""
        ways = self.noisy_ways(self.moves[-1].hand.control)
        return min(ways, default=0.0) <= -1e-9 and max(ways, default=0.0) >= 1e-9

    def _finest(self, control: Control) -> float:
        return next((made.hand.finest for made in self.moves if made.hand.control == control), 1.0)

    def marks_at_this_speed(self) -> list[Mark]:
        """Return what was heard since the pump was last moved, which makes all before it past."""
        since = self.since("return pump")
        return [mark for mark in self.marks if mark.moves >= since]

    def marks_here(self) -> list[Mark]:
        """Return what was heard since the last move."""
        return self.marks_after(len(self.moves))

    def marks_after(self, moves: int) -> list[Mark]:
        """Return what was heard after so many moves and before the next."""
        return [mark for mark in self.marks if mark.moves == moves]

    def _last_turn(self) -> float:
        """Return by how much the last move turned the siphon's valve, 0 where it moved something else or nothing."""
        last = self.moves[-1] if self.moves else None
        return last.amount if last is not None and last.hand.control == "siphon valve" else 0.0

    def silent_before_last(self) -> bool:
        """Tell whether it was silent each time that it was listened to where the last move began."""
        before = self.marks_after(len(self.moves) - 1)
        return bool(before) and all(mark.silent for mark in before)

    def opened_in_a_row(self) -> int:
        """Return how many of the last moves opened the siphon, one after the other."""
        return len(list(takewhile(
            lambda made: made.hand.control == "siphon valve" and made.amount >= 0, reversed(self.moves)
        )))

    def cycled(self) -> bool:
        """Tell whether gulps were heard to return in a cycle since the pump was last moved."""
        return any(mark.cycle_s is not None for mark in self.marks_at_this_speed())

    def was_opened(self) -> bool:
        """Tell whether the siphon was opened by any move."""
        return any(made.hand.control == "siphon valve" and made.amount > 0 for made in self.moves)

    def closed_in_vain(self) -> bool:
        """Tell whether the last moves all closed the siphon, and it grew clearly louder or gulps as much as before.

        A siphon that takes too much takes less with each; what grows, or stays, is the open channel's, and so is what
        rests clearly less by one, or began with one in silence, unless it is nothing but gulps that rest: a slow cycle
        may have been missed. Closings that take back what was opened do not count for what stays. Gulps that have
        become rare are heard as loud as before where they are: the windows between them count as well, and so does
        their cycle where it has grown longer.
        """
        if self._began_by_closing() or self._rests_less(opened=False):
            return True
        closings, at = len(list(self._closings_beyond())), self.openings()
        before = self.marks_after(len(self.moves) - closings)
        if closings < CLOSINGS or not before:
            return False
        here = self.marks_here() or [self.marks[-1]]
        louder = mean_level_db(here) - mean_level_db(before) >= LOUDER_BY_CLOSING_DB
        gulps, gulped = (sum(mark.gulps for mark in marks) / len(marks) for marks in (here, before))
        as_much = self.marks[-1].gulps > 0.0 and gulps >= GAIN * gulped and not slowed(before, here)
        far = at[-1 - closings] - at[-1] >= VAINLY_FAR * self.moves[-1].hand.first - 1e-9
        return louder or (closings >= VAIN_CLOSINGS and far and as_much)

    def closing_helped(self) -> bool:
        """Tell whether the last move closed the siphon, and it was silent after it, or far quieter, and is so yet.

        A full channel is sent more by it, and grows louder.
        """
        before, here = self.marks_after(len(self.moves) - 1), self.marks_here()
        if self._last_turn() >= 0.0 or self.silent_before_last() or not before or not here:
            return False
        less_db = mean_level_db(before) - here[-1].level_db
        return less_db >= (WORSE_DB if any(mark.silent for mark in here) else FAR_QUIETER_DB)

    def came_after_closing(self) -> bool:
        """Tell whether closing the siphon silenced it, and something fainter came where nothing was moved since.

        A box that stood deep is heard again once it has sunk so far; what always falls would not have ceased.
        """
        here = self.marks_here()
        return self.closing_helped() and any(mark.silent for mark in here) and not here[-1].silent

    def _began_by_closing(self) -> bool:
        heard = self.marks_after(len(self.moves))
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
                before, after = (any(m.too_much for m in self.marks_after(moves)) for moves in (i, i + 1))
                if after and not before:
                    smallest = min(smallest, -made.amount)
        return smallest

    def _gulps_since_turns(self) -> list[int]:
        """Return the places of the moves that turned the siphon's valve, none where it does not gulp on since them."""
        turned = [i for i, made in enumerate(self.moves) if made.hand.control == "siphon valve"]
        return turned if self.marks[-1].gulps >= STILL_GULPS else []

    def opened_in_vain(self) -> bool:
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

    def opened_beyond(self) -> bool:
        """Tell whether the siphon stands so far open that it must draw air, and it gulps and is no quieter for it."""
        turned = self._gulps_since_turns()
        if not turned:
            return False
        beyond = self.total("siphon valve") >= OPENED_BEYOND * self.moves[turned[0]].hand.first
        return beyond and self._as_loud_as_before(turned[0], WORSE_DB)

    def as_loud_far_apart(self) -> bool:
        """Tell whether it gulps, as it did so far off that levels tell a full channel, and is no quieter wider open.

        A full channel is the quieter the further the siphon is open; one that flushes is only heard less often.
        """
        turned = self._gulps_since_turns()
        if not turned or self.marks[-1].flushes_most:
            return False
        at, now, far = self.openings(), self.marks[-1], FAR_APART * self.moves[turned[0]].hand.first
        since = self.since("vent tap", "return pump")
        for mark in self.marks:
            apart = at[-1] - at[mark.moves]
            gulped = mark.moves >= since and mark.gulps >= STILL_GULPS and not mark.flushes_most
            if gulped and abs(apart) >= far:
                narrow, wide = (mark, now) if apart > 0.0 else (now, mark)
                return wide.level_db > narrow.level_db - STAYED_DB
        return False

    def gulps_as_before(self, move: int) -> bool:
        """Tell whether it gulps, and is hardly quieter than before a move, by its place."""
        return self.marks[-1].gulps >= STILL_GULPS and self._as_loud_as_before(move, WORSE_DB)

    def _as_loud_as_before(self, move: int, within_db: float) -> bool:
        """Tell whether it is not quieter by more than so much than before a move, by its place."""
        before = [mark.level_db for mark in self.marks if mark.moves <= move]
        return bool(before) and self.marks[-1].level_db > before[-1] - within_db

    def comes_more_by_opening(self) -> bool:
        """Tell whether what comes and goes rests clearly less since the last move, which opened the siphon, or began.

        Gulps come the more often the further the siphon is open; an open channel that flushes is given less water by
        it and flushes less often.
        """
        now = self.marks[-1]
        began = self._last_turn() > 0.0 and self.silent_before_last() and not now.silent and now.rests
        return began or self._rests_less(opened=True)

    def _rests_less(self, *, opened: bool) -> bool:
        """Tell whether what came and went rests clearly less since the last move, which opened or closed the siphon."""
        heard = self.marks_after(len(self.moves))
        rested = [mark for mark in self.marks_after(len(self.moves) - 1) if mark.rests]
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

    def still_in_vain(self) -> bool:
        """Tell whether a siphon that was opened in vain gulps on, and is not far closer than it was, or it rests."""
        now, total = self.marks[-1], self.total("siphon valve")
        first = next((made.hand.first for made in self.moves if made.hand.control == "siphon valve"), 0.0)
        gulps = now.gulps > (0.0 if total > 0.0 else STILL_GULPS) and not now.silent
        return gulps and (total > -CLOSED_FAR * first or now.rests) and not self.closed_in_vain()

    def room_to_close(self, *, vainly: bool, seen_dry: bool) -> float:
        """Return by how much the siphon may be closed and stay wider than where its open channel last gurgled much.

        In the valve's unit, whole finest steps, 0 or less where it may not; infinite where it never did. What was heard
        since with hardly any gurgle at such a setting, or beside it and not clearly quieter, speaks against it: what
        grows by closing is the channel's. A pump that was moved makes all of it past, and air that was given what
        flushed. What was opened in vain may be taken back but for a step, and further by one step, two, four and so on,
        as long as nothing speaks of a full channel; without limit where what is heard rests between bouts, or the
        channel was seen dry.
        """
        at = self.openings()
        finest = self._finest("siphon valve")
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
        if vainly:
            ill = {mark.moves for mark in self.marks if mark.too_much or mark.gurgles > GURGLE_LITTLE}
            closed = len(list(takewhile(lambda after: after not in ill, self._closings_beyond())))
            return inf if self.marks[-1].rests or seen_dry else max(at[-1] - finest, finest * 2.0**closed)
        return finest * (floor((at[-1] - widest) / finest + 1e-9) - 1) if widest > -inf else inf

    def _closings_beyond(self) -> Iterator[int]:
        """Give the number of moves after each of the last closings in a row beyond where the siphon was found.

        The newest comes first.
        """
        at = self.openings()
        for after in range(len(self.moves), 0, -1):
            made = self.moves[after - 1]
            if made.hand.control != "siphon valve" or made.amount > 0 or at[after] >= 0.0:
                return
            yield after

    def splash_follows(self) -> bool:
        """Tell whether nothing but a splash is heard, and it is clearly quieter with the siphon closer.

        So it is where the box sinks: water falls the further the more the siphon takes. What falls at the sump, or
        always falls from the weir, hardly changes.
        """
        since = self.since("vent tap", "return pump")
        at, here = self.openings(), [mark for mark in self.marks if mark.moves >= since and mark.falls]
        falling = [(at[mark.moves], mark.level_db) for mark in here if mark.splashes >= SPLASH_CLEAR]
        if not falling or self.marks[-1] is not here[-1]:
            return False
        (closest, quieter_db), (widest, louder_db) = min(falling), max(falling)
        return widest > closest and louder_db - quieter_db >= WORSE_DB

    def since(self, *controls: Control) -> int:
        """Return the number of moves after which none of these controls was moved any more."""
        return max((i + 1 for i, made in enumerate(self.moves) if made.hand.control in controls), default=0)


def slowed(before: Sequence[Mark], here: Sequence[Mark]) -> bool:
    """Tell whether gulps return clearly more seldom ``here`` than ``before``; not where no period was heard."""
    then, now = ([mark.cycle_s for mark in marks if mark.cycle_s is not None] for marks in (before, here))
    return bool(then) and bool(now) and min(now) >= SLOWER * max(then)


def mean_level_db(marks: Sequence[Mark]) -> float:
    """Return the level of the mean power of windows of one length."""
    return 10.0 * log10(sum(10.0 ** (mark.level_db / 10.0) for mark in marks) / len(marks))
