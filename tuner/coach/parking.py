"""In silence: the move that finds the middle of the quiet window, where one pays."""

from __future__ import annotations

from tuner.coach import safety, wording
from tuner.coach.belief import Belief
from tuner.coach.course import Course
from tuner.coach.handwork import Hand, both_ways
from tuner.coach.options import is_open, leads_to_noise, turns_back_in_silence
from tuner.coach.planning import BEARING_WORTH, Plan, plan
from tuner.coach.splashing import opens_into_splash
from tuner.rig import Rig
from tuner.terms import CauseName, Step

PARK_GAIN = 0.3  # in moves, from which a move in silence pays
MOST_PARKING, MOST_UNEASY, MOST_PROBING = 3, 4, 6  # moves in silence; as ``most_moves`` says
QUIET_TO_PARK = 0.8  # belief in a silence from which it is not doubted
QUIET_ENOUGH = 0.97  # belief in silence below which a silent window is listened to again
SILENT_TO_PARK_S = 60.0  # unbroken silence, or a belief of QUIET_TO_PARK, before a silent setting is moved
LONGEST_SILENCE_S = 360.0  # after which all but the slowest cycles would have been heard
DOUBTED, LONGEST_DOUBTED_S = 0.9, 600.0  # belief in silence below which those are waited for as well, after a cycle
CYCLING: frozenset[CauseName] = frozenset({"siphon over-open", "vent too closed"})
HOMING_QUIET, HOMING_GAIN = 0.9, 0.15  # chances: to stay silent on the way, and more of bearing changes once there
MOST_HOMING = 2  # such moves beyond the others


def parking_hands(rig: Rig, hands: tuple[Hand, ...]) -> tuple[Hand, ...]:
    """Return the controls to park with: the flow is the keeper's choice, but a ball valve is too coarse alone."""
    return tuple(h for h in hands if h.control != "return pump" or rig.siphon.valve.kind == "ball")


def most_moves(quiet: float, *, probing: bool) -> int:
    """Return how many moves may be made in silence: more where it is doubted, and where edges may be looked for."""
    if probing:
        return MOST_PROBING
    return MOST_PARKING if quiet >= QUIET_TO_PARK else MOST_UNEASY


def heard_long_enough(quiet: float, course: Course) -> bool:
    """Tell whether a silence that is believed in by ``quiet`` has lasted until it need not be doubted.

    A slow cycle is waited for longer where one was heard before.
    """
    cycled = quiet < DOUBTED and not CYCLING.isdisjoint(course.led)
    return quiet >= QUIET_ENOUGH or course.silent_s >= (LONGEST_DOUBTED_S if cycled else LONGEST_SILENCE_S)


def spent(course: Course, most: int) -> bool:
    """Tell whether no move in silence is left, not even one home."""
    return course.parkings >= most + MOST_HOMING


def parking_move(
    belief: Belief, rig: Rig, hands: tuple[Hand, ...], course: Course, now: safety.Situation, bearing_worth: float,
    quiet: float,
) -> Step | None:
    """Return the move to make in a silence that is believed in by ``quiet``, or None where none is worth it, or left.

    ``bearing_worth`` is in moves, as ``planning.plan`` takes it; from more than the usual one on, edges may be looked
    for.
    """
    most = most_moves(quiet, probing=bearing_worth > BEARING_WORTH)
    if spent(course, most):
        return None
    with_these = parking_hands(rig, hands)
    return parking_step(plan(belief.few(), rig, with_these, both_ways(with_these), bearing_worth), course, now, most)


def parking_step(found: Plan, course: Course, now: safety.Situation, most: int) -> Step | None:
    """Return the best allowed move that is worth it, or None.

    None leads to where it was noisy with nothing else moved since. Once ``most`` moves were made in silence, only a
    move home is allowed: one that should stay silent all the way and bring it well nearer to the middle. Such a move
    may turn back as well.
    """
    if spent(course, most):
        return None
    for move in found.moves:
        if move.worth < found.stay + PARK_GAIN:
            break
        home = move.quiet >= HOMING_QUIET and move.bears >= found.bears_now + HOMING_GAIN
        if opens_into_splash(course, move) or leads_to_noise(course, move) or (not home and (
            course.parkings >= most or not is_open(course, move) or turns_back_in_silence(course, move)
        )):
            continue
        step = Step(
            move.hand.control, move.amount, move.hand.unit, move.wait_s,
            wording.parking_why(found.bears_now, move.bears), wording.parking_expectation(move.quiet),
        )
        if safety.make_safe(step, move.hand, now)[0] == step:
            return step
    return None
