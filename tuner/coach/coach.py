"""The coach: hears a window, names the cause, gives the next move, and learns from what the move did."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from tuner.causes import LastMove, diagnose_reading
from tuner.causes.diagnosis import is_masked
from tuner.causes.rules import load_causes
from tuner.coach import closing, instructions, looks, memory, parking, questions, safety, wording
from tuner.coach.belief import Belief
from tuner.coach.course import Course, is_worse
from tuner.coach.covered import when_covered
from tuner.coach.doubts import MOST_DOUBTS, PASSING_QUIET, Doubts
from tuner.coach.gauge import Gauge, gauge_of
from tuner.coach.handwork import Hand, hand_for, hands_of
from tuner.coach.hearing_odds import cycles, evidence_of
from tuner.coach.leading import instead_of, is_set_aside, leading_in
from tuner.coach.options import candidates
from tuner.coach.planning import BEARING_WORTH, PROBING_WORTH, Prospect
from tuner.coach.rule import REMEDIES, PlainRule
from tuner.coach.shares import Word, believed, shifted
from tuner.coach.signs import without_faint_roar
from tuner.coach.situation import situation_of
from tuner.coach.splashing import may_have_sunk
from tuner.coach.stepsback import SETTLE_S, contradicted, faint_since, steps_back, taken_back
from tuner.coach.summary import Summary
from tuner.coach.unmoved import Unmoved, without_hiss
from tuner.rig import Rig
from tuner.rigfile import typical_rig
from tuner.terms import Cause, CauseName, Control, Diagnosis, Floor, Question, Reading, Samples, Step

if TYPE_CHECKING:
    from tuner.signatures.taught import Templates

Reader = Callable[[Samples, int], Reading]


class Coach:
    """Guides one tuning session.

    Parameters
    ----------
    rig
        The installation, or None: then a middling one is assumed throughout.
    floor
        The room with the pumps off, if it was measured.
    reader
        Turns samples and their rate into a ``Reading``, in place of the shipped ears.
    templates
        What was taught of this rig; the shipped ears hear by it too.
    hears_again
        Whether one may listen again; False for a recording, of which even a brief noise counts.
    """

    def __init__(
        self, rig: Rig | None = None, floor: Floor | None = None, reader: Reader | None = None, *,
        templates: Templates | None = None, hears_again: bool = True,
    ) -> None:
        self.rig = typical_rig() if rig is None else rig
        self.floor = floor
        self._reader, self._templates = reader, templates
        self._hands = hands_of(self.rig)
        self._rule = PlainRule(self._hands)
        self._belief = Belief(self.rig, np.random.default_rng(memory.seed_of(self.rig)), over_room=floor is not None)
        self._trusted, self._course = True, Course()
        self._entries: list[dict[str, Any]] = []
        self._diagnosis: Diagnosis | None = None
        self._before: Reading | None = None
        self._last = LastMove()
        self._pending: Step | Question | None = None
        self._hears_again = hears_again
        self._doubts, self._in_doubt = Doubts(over_room=floor is not None), False
        self._unmoved, self._bearing_worth = Unmoved(), BEARING_WORTH
        self._hiss_beside = self._decided = self._rescues = False
        self._ending = self.outcome = ""

    def hear(self, samples: Samples, sample_rate: int) -> Diagnosis:
        """Listen to one window of mono samples in [-1, 1] and return the diagnosis.

        Raises
        ------
        ConfigError
            When the samples are too short, not finite or digital silence throughout.
        """
        if self._reader is None:
            # the ears are slow to load, and a coach fed with readings never needs them
            from tuner.signatures.listener import read_window

            self._reader = partial(read_window, floor=self.floor, rig=self.rig, templates=self._templates)
        return self.hear_reading(self._reader(samples, sample_rate))

    def hear_reading(self, reading: Reading) -> Diagnosis:
        """Take one reading and return the diagnosis."""
        self._entries.append({"heard": memory.reading_to_plain(reading)})
        return self._hear(reading)

    def _hear(self, reading: Reading) -> Diagnosis:
        silence = load_causes().silence
        last = self._last
        if last.amount and self._before is not None:
            last = replace(last, worse=is_worse(self._before, reading))
        belief = self._belief if self._trusted else None
        self._hiss_beside = self._unmoved.is_beside(reading, len(self._course.moves), silence, self.floor, belief)
        if self._hiss_beside:
            reading = without_hiss(reading)
        diagnosis = diagnose_reading(reading, rig=self.rig, last_move=last, floor=self.floor, in_a_row=True)
        diagnosis = without_faint_roar(diagnosis, self._course.room_db)
        if masked := is_masked(reading, silence):
            self._course.covered(reading)
        self._in_doubt = self._hears_again and self._doubts.is_doubtful(diagnosis, silence)
        came = self._came_with_move() and not self._in_doubt
        lively = self._doubts.lively
        if not masked:
            self._trusted = self._belief.heard(evidence_of(
                reading, self._course.unheard_s if lively else self._course.silent_s, self._course.settled_s,
                self._course.waited_s, over_room=self.floor is not None, lively=lively, doubtful=self._in_doubt,
            ))
            self._course.unheard_s = 0.0 if cycles(reading) else self._course.unheard_s + reading.clean_s
        noisy = lively and not (masked or diagnosis.silent)
        quiet = self._belief.expected().quiet if noisy and self._trusted else 0.0
        if noisy and not came and self._doubts.is_passing(diagnosis, quiet, self._belief.causes()):
            self._in_doubt = True
            self._course.silent_s += reading.clean_s
            # never still enough to end in silence
            self._doubts.count += self._course.silent_s >= parking.LONGEST_SILENCE_S
        elif self._in_doubt:
            self._doubts.count += 1
            self._course.silent_s *= lively  # in a lively room doubts come too often to end it
        else:
            diagnosis = self._taken(diagnosis, last, masked=masked)
        self._diagnosis, self._decided = diagnosis, False
        return diagnosis

    def _came_with_move(self) -> bool:
        return self._course.turns.silent_before_last() and not self._doubts.was_silent

    def _taken(self, diagnosis: Diagnosis, last: LastMove, *, masked: bool) -> Diagnosis:
        """Note a diagnosis that counts, and return it with the belief's word on its causes."""
        reading = diagnosis.reading
        if last.worse is not None:
            self._last = last
            self._course.worse_in_a_row = self._course.worse_in_a_row + 1 if last.worse else 0
            aimed = self._course.moves[-1].cause if self._course.moves else None
            self.outcome = wording.comparison(self._before or reading, reading, diagnosis.silent, aimed)
        if not masked:
            if self._trusted and not diagnosis.silent:
                diagnosis = replace(diagnosis, causes=believed(diagnosis.causes, self._word(reading)))
            self._before = reading
            leading = self._leading(diagnosis).name if diagnosis.causes else None
            aside = leading is not None and is_set_aside(leading, self._course.instructed)
            self._course.heard(reading, None if aside else leading)
            self._belief.told_by_moves(self._course.told)
        if diagnosis.causes:
            self._course.named(diagnosis.causes[0].name)
        return diagnosis

    def advise(self) -> Step | Question | None:
        """Return the next move, a question, or None when nothing more is to be done (``summary`` says why)."""
        if not self._decided:
            self._entries.append({"advised": True})
            self._rescues = False
            self._pending, self._decided = self._decide(), True
        return self._pending

    def _decide(self) -> Step | Question | None:
        diagnosis = self._diagnosis
        if diagnosis is None:
            return self._instruction("siphon valve", instructions.LISTEN_FIRST, wait_s=0.0)
        if is_masked(diagnosis.reading, load_causes().silence):
            found = when_covered(self._course, self._situation())
            wait = found or self._instruction("siphon valve", instructions.MASKED, wait_s=30.0)
            return self._move_for(wait) if isinstance(wait, Cause) else wait
        if self._in_doubt:
            if look := looks.in_doubt(self._course, self._doubts.held_back):
                return look
            if self._doubts.came_faintly and (back := faint_since(self._course, self._belief, self._situation())):
                return back
            if not self._doubts.remains:
                return self._instruction("siphon valve", instructions.IN_DOUBT, wait_s=0.0)
            self._ending = instructions.STILL_IN_DOUBT
            return None
        if diagnosis.silent:
            return self._park()
        if asking := looks.in_noise(diagnosis.causes, self._course, self._belief, trusted=self._trusted):
            return asking
        if self._course.worse_in_a_row >= safety.WORSE_LIMIT and self._course.moves:
            return self._stop_and_say()
        return self._move_for(self._leading(diagnosis))

    def _leading(self, diagnosis: Diagnosis) -> Cause:
        return leading_in(diagnosis, self._course, self._word(diagnosis.reading) if self._trusted else None)

    def _word(self, reading: Reading) -> Word:
        return self._belief.word(may_have_sunk=may_have_sunk(reading, self._course))

    def _park(self, beside: CauseName | None = None) -> Step | Question | None:
        """In silence of the drains: move to mid-window where that pays, listen on where it is doubted, ask, or end.

        ``beside`` is what is heard all the same, and no control mends.
        """
        now = self._belief.expected()
        wanted = self._trusted and (beside is None or bool(self._course.moves))
        believed_from = PASSING_QUIET if self._trusted and self._doubts.lively else 0.0
        long_silent = self._course.silent_s >= parking.SILENT_TO_PARK_S and now.quiet >= believed_from
        quiet_so_far = long_silent or now.quiet >= parking.QUIET_TO_PARK
        may_move = wanted and quiet_so_far
        if may_move and self._hears_again and (look := looks.in_silence(self._course, self._belief)):
            return look
        if may_move and (step := self._parking_move(self._bearing_worth, now.quiet)):
            self._course.parkings += 1
            return step
        if not (quiet_so_far and parking.heard_long_enough(now.quiet, self._course)):
            return self._instruction("siphon valve", instructions.listen_on(beside), wait_s=0.0)
        ask = may_move and self._hears_again and questions.FIND_EDGES.id not in self._course.asked
        if ask and self._parking_move(PROBING_WORTH, now.quiet):
            return questions.FIND_EDGES
        also = self._doubts.remark()
        if self._hiss_beside:
            also += f"; {instructions.ROOMS_HISS if self.floor is None else instructions.PUMPS_HISS}"
        self._ending = closing.last_words(now, closing.closing_of(self._belief, self.rig, self._hands), beside, also)
        return None

    def _parking_move(self, worth: float, quiet: float) -> Step | None:
        return parking.parking_move(self._belief, self.rig, self._hands, self._course, self._situation(), worth, quiet)

    def way_back(self) -> tuple[Step, ...]:
        """Return the moves back to the best setting heard so far: the last silent one, else the quietest.

        Each is done and told like any other (``did``); one that no safety rule allows is left out.
        """
        return steps_back(self._course, self._hands, self._situation())

    def _move_for(self, cause: Cause) -> Step | Question | None:
        if cause.name not in REMEDIES:
            return self._for_unmendable(cause.name)
        if self._came_with_move() and (back := contradicted(cause.name, self._course, self._situation())):
            return back
        self._rescues = cause.name == "emergency carrying flow"
        made = self._course.emergency_moves() if self._rescues else 0
        if made >= 2 * safety.MOST_EMERGENCY:
            self._ending = instructions.BLOCKAGE
            return None
        if made >= safety.MOST_EMERGENCY and cause.name not in self._course.instructed:
            return self._instruct_once(cause.name, "siphon valve", instructions.BLOCKAGE)
        if stuck := self._course.stuck():
            return self._instruct_once(cause.name, *stuck)
        now = self._situation()
        for move in self._candidates(cause.name):
            step = Step(
                move.hand.control, move.amount, move.hand.unit, move.wait_s, wording.why(cause, move.hand.control),
                wording.expectation(move, cause.name),
            )
            safe, _ = safety.make_safe(step, move.hand, now)
            if safe == step:  # a cut one would not do what it says: the smaller moves are in the list as well
                return safe
        if other := instead_of(cause, now):
            return self._move_for(other)
        return self._by_plain_rule(cause)

    def _for_unmendable(self, cause: CauseName) -> Step | Question | None:
        came = cause not in {*self._course.instructed, "outside noise"} and self._came_with_move()
        if back := taken_back(cause, self._course, self._situation(), came=came):
            if came:
                self._belief.not_quiet()
            return back
        if is_set_aside(cause, self._course.instructed):
            if self._trusted:
                return self._park(cause)
            if self._hears_again and self._doubts.count <= MOST_DOUBTS:  # the next reading shows whether it is all
                self._doubts.count += 1
                return self._instruction("siphon valve", instructions.IN_DOUBT, wait_s=0.0)
        if self._hears_again and self._course.led_once(cause):
            return self._instruction("siphon valve", instructions.ONCE_MORE, wait_s=0.0)
        return self._instruct_once(cause, *instructions.LEFT.get(cause, instructions.LEFT["unknown"]))

    def _candidates(self, cause: CauseName) -> tuple[Prospect, ...]:
        """Return the belief's moves, best first; none when the last reading contradicted it."""
        if not self._trusted:
            return ()
        causes = self._diagnosis.causes if self._diagnosis else ()
        return candidates(cause, causes, self._belief, self.rig, self._hands, self._course, self._bearing_worth)

    def _by_plain_rule(self, cause: Cause) -> Step | None:
        hold_tap = cause.name == "vent too closed" and self._situation().flushing_much
        proposal = self._rule.propose("siphon over-closed" if hold_tap else cause.name, self._course.declined)
        if proposal is None:
            return self._instruct_once(cause.name, "vent tap", instructions.NO_VENT)
        hand, amount = proposal
        why, expect = wording.why(cause, hand.control), wording.should(cause.name)
        step = Step(hand.control, amount, hand.unit, SETTLE_S, why, expect)
        safe, reason = safety.make_safe(step, hand, self._situation())
        if safe is None:
            more = instructions.BLOCKAGE if cause.name == "emergency carrying flow" else instructions.SIZES
            return self._instruct_once(cause.name, hand.control, f"Stop here: {reason}. {more}")
        return safe

    def _stop_and_say(self) -> Step:
        last = self._course.moves[-1]
        self._course.worse_in_a_row = 0
        back = wording.go_back(last.hand.control, -last.amount, last.unit)
        return self._instruction(last.hand.control, back, wait_s=SETTLE_S)

    def _instruct_once(self, cause: CauseName, control: Control, text: str) -> Step | None:
        if cause in self._course.instructed:
            self._ending = f"{cause} is still there after the instruction was given: {text}"
            return None
        self._course.instruct(cause)
        return self._instruction(control, text, wait_s=60.0)

    def _instruction(self, control: Control, text: str, wait_s: float) -> Step:
        hand = hand_for(self._hands, control)
        return Step(control, 0.0, hand.unit if hand else "percent", wait_s, text)

    def _situation(self) -> safety.Situation:
        return situation_of(self._diagnosis, self._course, self._belief, self.rig)

    def did(self, step: Step, amount: float | None = None) -> None:
        """Tell that ``step`` was done, or that ``amount`` was done in its place (0: declined)."""
        done = step.amount if amount is None else amount
        self._entries.append({"did": [step.control, done, step.unit, step.wait_s]})
        self._did(step.control, done, step.wait_s)

    def _did(self, control: Control, done: float, wait_s: float) -> None:
        self._last = LastMove(control, done)
        self.outcome = ""
        hand = hand_for(self._hands, control)
        self._course.left_out(self._pending, done)
        if done and hand is not None:
            self._rule.did(control, done)
            self._belief.moved(control, done)
            leading = self._diagnosis.causes[0].name if self._diagnosis and self._diagnosis.causes else None
            self._course.moved(hand, done, "emergency carrying flow" if self._rescues else leading, wait_s)
            self._doubts.moved()
        self._decided = False

    def look(self, question_id: str, answer: str | None) -> None:
        """Answer a question that the coach asked; None for no answer.

        Raises
        ------
        ConfigError
            When the question or the answer is not one that the coach knows.
        """
        odds = looks.odds_of(question_id, answer, self._belief)
        self._entries.append({"looked": [question_id, answer]})
        if (question_id, answer) == (questions.FIND_EDGES.id, "yes"):
            self._bearing_worth = PROBING_WORTH
        if seen := self._course.looked(question_id, answer, odds):
            self._trusted = True  # a belief that began anew has more to go by
            self._in_doubt &= not seen.swings
        if self._diagnosis is not None and odds:
            self._diagnosis = replace(self._diagnosis, causes=shifted(self._diagnosis.causes, odds))
        self._decided = False

    @property
    def state(self) -> dict[str, Any]:
        """The session so far as plain values for a logbook; ``restore`` takes them up again."""
        return memory.session_state(self._entries, self.rig)

    @classmethod
    def restore(
        cls, state: Mapping[str, Any], rig: Rig | None = None, floor: Floor | None = None, reader: Reader | None = None,
    ) -> Coach:
        """Return the coach that ``state`` was taken from.

        Raises
        ------
        ConfigError
            When the state cannot be read or belongs to another installation.
        """
        coach = cls(rig, floor, reader)
        for entry in memory.session_entries(state, coach.rig):
            memory.replay(entry, coach)
        return coach

    def summary(self) -> Summary:
        """Return where the session stands."""
        silent = self._diagnosis is not None and self._diagnosis.silent
        now = self._belief.expected() if silent else None
        return Summary(
            tuned=silent and self._decided and self._pending is None, moves=len(self._course.moves),
            found=tuple(self._course.found), text=self._ending or "Not finished.",
            less_flow=now.less_flow if now else None, more_flow=now.more_flow if now else None,
        )

    @property
    def hands(self) -> tuple[Hand, ...]:
        """The controls of this installation."""
        return self._hands

    @property
    def gauge(self) -> Gauge:
        """Where the installation is believed to stand between the edges of its quiet window."""
        return gauge_of(self._belief)
