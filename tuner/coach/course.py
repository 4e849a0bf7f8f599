"""The course of a session: what was moved, heard and said so far, and what follows from its order."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from math import inf

from tuner.causes.facts import presence
from tuner.coach.handwork import Hand
from tuner.coach.instructions import BETWEEN_STEPS, NO_EFFECT
from tuner.coach.marks import Made, Mark, Told
from tuner.coach.questions import EMERGENCY_DRY
from tuner.coach.safety import MOST_EMERGENCY, sends_more
from tuner.coach.signs import cycle_s, falls, overfull, rests, roaring_much
from tuner.coach.surface import LOOKS, Seen
from tuner.coach.turns import WORSE_DB, Turns
from tuner.coach.wording import CLEAR_CHANGE_DB
from tuner.signatures.reading import PAUSES
from tuner.terms import CauseName, Control, Question, Reading, Step

COVERED_READINGS, FAR_LOUDER_DB = 2, 8.0  # in a row, each over what it was before the move
NO_EFFECT_MOVES = 4
NO_EFFECT_TRAVEL = 0.2  # of the whole travel, turned in those moves together
MOST_NOISY_VISITS = 4  # to the same settings, after which moves only go around
LONG_SETTLED_S = 1e6
LED_TWICE, LED_OF = 2, 4  # hearings after a move in which a cause leads, before its instruction; of so many
GURGLING: tuple[CauseName, ...] = ("siphon over-closed", "emergency carrying flow")


@dataclass(slots=True)
class Course:
    """Counts and lists that grow with the session; ``levels_db`` and ``led`` have one value per unmasked reading.

    ``silent_s`` counts the clean seconds of silence, ``waited_s`` the seconds since the last move, ``unheard_s`` those
    since a gulp or flush, of the drains or not; ``stood_low`` tells that the box gulped at the last move.
    ``covered_db`` has the levels of the readings since the last move that other sound covered, up to one that was not,
    ``seen_running`` tells that water was seen to run from the emergency pipe meanwhile, ``vainly`` that the siphon was
    opened again and again and gulps: what else is heard then is no open channel's. ``roared_vainly`` tells that moves
    for the emergency pipe, and a search for what blocks it, left a roar and gulps as they were: nor is it that pipe's.
    ``looks`` has the looks into the box that were answered, ``misheard`` tells that they showed a gurgle to be no full
    channel's. ``declined`` holds the controls and ways (-1, 1) that the keeper left out since the last move: a handle
    at its stop, or no wish to. ``instructed_after`` is the number of moves before the last instruction. ``unanswered``
    tells that a question since the last reading got no answer; ``room_db`` is the lowest level that was heard in
    silence or between bouts.
    """

    moves: list[Made] = field(default_factory=list)
    levels_db: list[float] = field(default_factory=list)
    led: list[str] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    found: list[CauseName] = field(default_factory=list)
    asked: set[str] = field(default_factory=set)
    looks: list[Seen] = field(default_factory=list)
    instructed: set[CauseName] = field(default_factory=set)
    instructed_after: int = 0
    parkings: int = 0
    silent_s: float = 0.0
    unheard_s: float = 0.0
    waited_s: float = LONG_SETTLED_S
    stood_low: bool = False
    worse_in_a_row: int = 0
    covered_db: list[float] = field(default_factory=list)
    seen_running: bool = False
    vainly: bool = False
    roared_vainly: bool = False
    misheard: bool = False
    declined: set[tuple[Control, int]] = field(default_factory=set)
    unanswered: bool = False
    room_db: float = inf

    def heard(self, reading: Reading, leading: CauseName | None) -> None:
        """Note an unmasked reading and the cause that led in it, None in silence."""
        self.unanswered = False
        self.waited_s += reading.duration_s
        self.levels_db.append(reading.levels.laeq_db)
        self.led.append(leading or "silent")
        self.marks.append(Mark(
            len(self.moves), leading is None, reading.levels.laeq_db, presence(reading, "slurp"),
            presence(reading, "gurgle"), not self.misheard and overfull(reading, self.turns.total("siphon valve")),
            reading.features.get(PAUSES), presence(reading, "splash"), roaring_much(reading, self.room_db),
            falls(reading), presence(reading, "flush"), cycle_s(reading),
        ))
        if leading is None or rests(reading):
            self.room_db = min(self.room_db, reading.levels.la90_db)
        turns = self.turns
        in_vain = turns.opened_in_vain() or turns.comes_more_by_opening() or turns.as_loud_far_apart()
        in_vain = (in_vain or (self.vainly and turns.still_in_vain())) and not roaring_much(reading, self.room_db)
        self._uncovered()
        self.roared_vainly = self._roared_in_vain()
        self.vainly = in_vain or turns.opened_beyond() or self.roared_vainly
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
        self.roared_vainly &= not self.seen_running
        return seen

    def _seen_dry(self) -> bool:
        """Take it back that the open channel was full with the siphon as far open as now, or further: it is dry.

        Return whether a gurgle was, or is, taken for a full channel's there. Then it is one nowhere but where it was
        seen, until eyes say so.
        """
        at, here = self.turns.openings(), self.turns.marks_at_this_speed()
        as_far = {mark.moves for mark in here if at[mark.moves] >= at[-1] - 1e-9}
        misheard = self.misheard or any(mark.overfull for mark in here if mark.moves in as_far)
        reached = {look.moves for look in self.looks if look.reaches_elbow}
        dry = as_far | ({mark.moves for mark in here} - reached if misheard else set())
        self.marks = [replace(m, overfull=False, roars=False) if m.moves in dry else m for m in self.marks]
        return misheard

    @property
    def settled_s(self) -> float:
        """For how long the box may have drained: a box that stood low when it was moved has nothing left to drain."""
        return LONG_SETTLED_S if self.stood_low else self.waited_s

    @property
    def told(self) -> Told:
        """What the turns of the siphon's valve tell of what is heard."""
        turns = self.turns
        return Told(turns.closed_in_vain(), self.vainly, turns.splash_follows())

    @property
    def turns(self) -> Turns:
        """What the turns of the siphon's valve did so far."""
        return Turns(self.moves, self.marks)

    def room_to_close(self) -> float:
        """Return by how much the siphon may be closed and stay wider than where its open channel last gurgled much."""
        seen = self.seen()
        return self.turns.room_to_close(vainly=self.vainly, seen_dry=seen is not None and seen.low)

    def seen(self) -> Seen | None:
        """Return what the last look into the box showed, None where something was moved since."""
        return next((look for look in self.looks[-1:] if look.moves == len(self.moves)), None)

    def led_once(self, cause: CauseName) -> bool:
        """Tell whether a cause leads for the first time where something was moved, of few hearings since."""
        here = [led for led, mark in zip(self.led, self.marks, strict=True) if mark.moves == len(self.moves)]
        return bool(self.moves) and here.count(cause) < LED_TWICE and len(here) < LED_OF

    def named(self, cause: CauseName) -> None:
        """Note that a cause was named, once."""
        if cause not in self.found:
            self.found.append(cause)

    def moved(self, hand: Hand, amount: float, cause: CauseName | None, wait_s: float) -> None:
        """Note a move and the wait after it; a silence begins anew.

        A box that was gulping when it was moved stands low already, so it has nothing left to drain.
        """
        self.stood_low = bool(self.led) and self.led[-1] == "siphon over-open"
        self.waited_s = wait_s
        self.moves.append(Made(hand, amount, cause))
        self.declined.clear()
        if self.seen_running and self.covered_db:
            self.asked.discard(EMERGENCY_DRY.id)  # whether the move stopped it is for another look
        self._uncovered()
        self.silent_s = self.unheard_s = 0.0

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

    def instruct(self, cause: CauseName) -> None:
        """Note that the instruction of a cause was given."""
        self.instructed.add(cause)
        self.instructed_after = len(self.moves)

    def tried(self) -> int:
        """Return how many moves were made since the last instruction."""
        return len(self.moves) - self.instructed_after

    def emergency_moves(self) -> int:
        """Return how many moves were made for the emergency pipe since it was last silent."""
        return len(self._for_emergency())

    def _for_emergency(self) -> list[int]:
        """Return the places of the moves that were made for the emergency pipe since it was last silent."""
        silent = max((mark.moves for mark in self.marks if mark.silent), default=0)
        return [i for i in range(silent, len(self.moves)) if self.moves[i].cause == "emergency carrying flow"]

    def _roared_in_vain(self) -> bool:
        """Tell whether the moves for the emergency pipe leave it gulping as loud as before them, nothing blocked.

        What that pipe carries grows less with each, and gulps let the water sink far below its rim. It is believed in
        again after silence, once water is seen to run, and where it grows by closing.
        """
        made = self._for_emergency()
        looked_for = len(made) >= MOST_EMERGENCY and "emergency carrying flow" in self.instructed
        if not looked_for or self.marks[-1].gulps <= 0.0 or self.turns.closed_in_vain():
            return False
        return self.roared_vainly or self.turns.gulps_as_before(made[0])

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

    def stuck(self) -> tuple[Control, str] | None:
        """Return the control that leads no further, and what to do instead, or None."""
        if control := self.without_effect():
            return control, NO_EFFECT.format(control=control)
        turns = self.turns
        if self.moves and turns.noisy_on_both_sides() and turns.times_noisy_here() >= MOST_NOISY_VISITS:
            return self.moves[-1].hand.control, BETWEEN_STEPS
        return None

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
