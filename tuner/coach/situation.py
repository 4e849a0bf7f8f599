"""What the safety rules need to know, gathered from what was heard, what was done and what is believed."""

from __future__ import annotations

from tuner.causes.facts import presence
from tuner.coach import safety
from tuner.coach.belief import Belief
from tuner.coach.course import Course
from tuner.rig import Rig
from tuner.terms import Diagnosis, Reading

GULPS_MUCH = 0.2  # presence of gulps from which the siphon is taken to draw air again and again
FULLER_FROM = 0.1  # presence of a flush or roar from which the box may stand high all the same


def situation_of(diagnosis: Diagnosis | None, course: Course, belief: Belief, rig: Rig) -> safety.Situation:
    """Return the situation in which a step would be made; without a diagnosis nothing was heard yet."""
    causes = diagnosis.causes if diagnosis else ()
    opened = course.total("siphon valve")
    begun_percent = 100.0 * max(pump.speed for pump in rig.pumps)
    # At first a gurgle counts whatever is beside it; after opening, what was opened may be taken back.
    overdone = diagnosis is not None and opened > 0 and gulps_dry(diagnosis.reading)
    emergency = next((c.probability for c in causes if c.name == "emergency carrying flow"), 0.0)
    if diagnosis is not None and roaring_much(diagnosis.reading):
        emergency = max(emergency, safety.EMERGENCY_MAYBE)
    return safety.Situation(
        emergency=emergency,
        opening=belief.least_opening(),
        closed_so_far=-opened / rig.siphon.valve.full,
        slowest_percent=begun_percent + belief.slowest_change,
        speed_percent=begun_percent + course.total("return pump"),
        worse_in_a_row=course.worse_in_a_row,
        flushing_much=diagnosis is not None and flushing_much(diagnosis.reading),
        opened_in_a_row=course.opened_in_a_row(),
        gurgling_much=diagnosis is not None and gurgling_much(diagnosis.reading) and not overdone,
        opened_too_far=overdone,
        flushing_most=diagnosis is not None and flushing_most(diagnosis.reading),
        closed_in_vain=course.closed_in_vain(),
    )


def roaring_much(reading: Reading) -> bool:
    """Tell whether a roar fills so much of the time that the emergency pipe may carry water, whatever else is heard."""
    roar = presence(reading, "roar")
    return roar >= safety.ROAR_MUCH and roar > presence(reading, "flush")


def gurgling_much(reading: Reading) -> bool:
    """Tell whether the open channel gurgles through so much of the time that it carries more than it should."""
    return presence(reading, "gurgle") >= safety.GURGLE_MUCH


def gulps_dry(reading: Reading) -> bool:
    """Tell whether the siphon gulps so much that the box stands at its inlet, with no flush or roar beside it.

    The open channel is dry then, and a gurgle is the siphon's own.
    """
    fuller = max(presence(reading, "flush"), presence(reading, "roar")) >= FULLER_FROM
    return presence(reading, "slurp") >= GULPS_MUCH and not fuller


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
