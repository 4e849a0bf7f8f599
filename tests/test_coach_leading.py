from __future__ import annotations

from dataclasses import replace

import pytest

from tests.test_coach_safety import CALM
from tuner.coach import wording
from tuner.coach.course import Course
from tuner.coach.handwork import hand_for, hands_of
from tuner.coach.leading import (
    MOST_TRIALS,
    as_heard_again,
    instead_of,
    is_explained,
    is_set_aside,
    leading_cause,
    leading_in,
)
from tuner.coach.marks import Made, Mark
from tuner.coach.safety import Situation
from tuner.coach.shares import Word
from tuner.rig import Rig
from tuner.terms import Cause, CauseName, Diagnosis, Heard, Levels, Reading, SoundKind

LEVELS = Levels(-40.0, -38.0, -41.0, -43.0, -35.0, (1000.0,), (-45.0,))
EVERY: dict[SoundKind, float] = {"slurp": 0.2, "gurgle": 0.2, "trickle": 0.2, "roar": 0.2, "hum": 0.2}


def told(heard: dict[SoundKind, float] = EVERY, **given: float) -> Diagnosis:
    names: dict[str, CauseName] = {
        "open": "siphon over-open", "closed": "siphon over-closed", "wide": "vent too wide", "hum": "pump hum",
        "emergency": "emergency carrying flow", "unknown": "unknown", "outside": "outside noise",
        "air": "pump drawing air",
    }
    causes = tuple(Cause(names[k], p, ("heard",)) for k, p in sorted(given.items(), key=lambda item: -item[1]))
    kinds = tuple(Heard(kind, share, share, 6.0, None, 1, 1.0) for kind, share in heard.items())
    return Diagnosis(False, (), causes, Reading(20.0, 20.0, LEVELS, (), kinds, None, 0.0))


def test_the_best_cause_leads() -> None:
    assert leading_cause(told(open=0.7, wide=0.2), (), None).name == "siphon over-open"


def test_an_instruction_that_was_given_gives_way_to_the_next() -> None:
    both = told(hum=0.6, open=0.3)
    assert leading_cause(both, (), None).name == "pump hum"
    assert leading_cause(both, {"pump hum"}, None).name == "siphon over-open"


def test_nothing_is_turned_for_an_unlikely_cause_behind_another_unless_the_belief_speaks_for_it() -> None:
    both = told(hum=0.8, open=0.1)
    assert leading_cause(both, {"pump hum"}, None).name == "pump hum"
    assert leading_cause(both, {"pump hum"}, Word({"siphon over-open": 0.7})).name == "siphon over-open"
    # the belief has a say on the siphon's valve only
    assert leading_cause(told(hum=0.8, wide=0.1), {"pump hum"}, Word({"vent too wide": 0.9})).name == "pump hum"


def test_behind_an_unknown_the_likeliest_cause_leads_if_there_is_one() -> None:
    assert leading_cause(told(unknown=0.6, closed=0.3), (), None).name == "siphon over-closed"
    assert leading_cause(told(unknown=0.95, closed=0.02), (), None).name == "unknown"
    assert leading_cause(told(outside=0.95, unknown=0.05), (), None).name == "outside noise"


def test_behind_another_nothing_is_turned_for_a_cause_of_whose_sounds_there_is_no_trace() -> None:
    faint: dict[SoundKind, float] = {"hum": 0.3, "trickle": 0.12, "roar": 0.02}
    assert leading_cause(told(faint, unknown=0.7, emergency=0.06), (), None).name == "unknown"
    roaring: dict[SoundKind, float] = {**faint, "roar": 0.06}
    assert leading_cause(told(roaring, unknown=0.7, emergency=0.06), (), None).name == "emergency carrying flow"
    # the best cause needs none: the rules may know it from the level alone
    assert leading_cause(told(faint, emergency=0.7, unknown=0.2), (), None).name == "emergency carrying flow"


def test_what_is_heard_of_a_cause_that_no_control_mends_is_that_cause_once_its_instruction_was_given() -> None:
    only_hum: dict[SoundKind, float] = {"hum": 0.15, "hiss": 0.06}
    assert leading_cause(told(only_hum, unknown=0.6, hum=0.2), {"pump hum"}, None).name == "pump hum"
    assert leading_cause(told(only_hum, unknown=0.6, hum=0.2), (), None).name != "siphon over-open"
    # a cause that is named is not put behind one that was set aside
    assert leading_cause(told({"trickle": 0.5}, wide=0.9, air=0.05), {"pump drawing air"}, None).name == "vent too wide"
    more: dict[SoundKind, float] = {"hum": 0.15, "gurgle": 0.4}
    assert leading_cause(told(more, closed=0.6, hum=0.2), {"pump hum"}, None).name == "siphon over-closed"


def test_what_stays_after_an_instruction_is_turned_for_where_the_belief_takes_it_for_a_drain() -> None:
    both = told({"trickle": 1.0, "hiss": 0.5}, air=0.8, wide=0.07)
    believed: dict[CauseName, float] = {"vent too wide": 0.8, "siphon over-closed": 0.1}
    assert leading_cause(both, (), Word(believed, 0.1)).name == "pump drawing air"
    drains = leading_cause(both, {"pump drawing air"}, Word(believed, 0.1))
    assert drains.name == "vent too wide"
    assert "instruction" in drains.because[0]
    assert leading_cause(both, {"pump drawing air"}, Word(believed, 0.7)).name == "pump drawing air"
    # a roar that nobody hears is not turned for
    believed = {"vent too wide": 0.3, "emergency carrying flow": 0.4}
    assert leading_cause(both, {"pump drawing air"}, Word(believed, 0.1)).name == "vent too wide"


def test_a_sound_that_the_belief_hardly_takes_for_a_drain_is_that_of_the_cause_set_aside() -> None:
    both = told({"trickle": 1.0}, wide=0.7, air=0.2)
    quiet: dict[CauseName, float] = {"vent too wide": 0.05}
    assert leading_cause(both, {"pump drawing air"}, Word(quiet, 0.9)).name == "pump drawing air"
    assert leading_cause(both, (), Word(quiet, 0.9)).name == "vent too wide"
    assert leading_cause(both, {"pump drawing air"}, Word({"vent too wide": 0.3}, 0.6)).name == "vent too wide"
    # a hum does not sound like it
    hums = told({"trickle": 1.0}, wide=0.7, hum=0.2)
    assert leading_cause(hums, {"pump hum"}, Word(quiet, 0.9)).name == "vent too wide"


def test_what_fits_no_cause_is_set_aside_once_its_instruction_was_given() -> None:
    unknown = told({"trickle": 0.1}, unknown=0.7, outside=0.2)
    believed: dict[CauseName, float] = {"vent too wide": 0.1, "siphon over-closed": 0.05}
    assert leading_cause(unknown, {"unknown"}, Word(believed, 0.8)).name == "unknown"
    assert is_set_aside("unknown", {"unknown"})
    assert not is_set_aside("siphon not purged", {"siphon not purged"})
    believed = {"vent too wide": 0.6, "siphon over-closed": 0.2}
    assert leading_cause(unknown, {"unknown"}, Word(believed, 0.2)).name == "vent too wide"


@pytest.mark.parametrize(
    ("now", "name", "why"),
    [
        (CALM, None, ""),
        (replace(CALM, emergency=0.5), "emergency carrying flow", wording.ROARS_TOO),
        (replace(CALM, gurgling_much=True), "siphon over-closed", wording.GURGLES_TOO),
        (replace(CALM, closed_in_vain=True), "siphon over-closed", wording.CLOSED_IN_VAIN),
        (replace(CALM, room_to_close=0.0), "siphon over-closed", wording.GURGLED_HERE),
        (replace(CALM, flushing_most=True), "vent too closed", wording.FLUSHES_TOO),
    ],
)
def test_where_nothing_may_be_closed_gulps_give_way_to_the_cause_that_forbids_it(
    now: Situation, name: str | None, why: str
) -> None:
    other = instead_of(Cause("siphon over-open", 0.9, ()), now)
    assert (other.name if other else None) == name
    assert other is None or other.because == (why,)
    assert instead_of(Cause("vent too wide", 0.9, ()), now) is None


def test_what_is_not_known_and_was_set_aside_leads_to_no_other_cause() -> None:
    believed: dict[CauseName, float] = {"vent too closed": 0.01, "siphon over-open": 0.02}
    both = Diagnosis(
        False, (), (Cause("vent too closed", 0.7, ()), Cause("unknown", 0.3, ())), told(wide=0.5).reading
    )
    assert leading_cause(both, {"unknown"}, Word(believed, 0.9)).name == "vent too closed"


def marks(*heard: dict[SoundKind, float]) -> tuple[Mark, ...]:
    return tuple(Mark(0, False, -40.0, gulps=h.get("slurp", 0.0), gurgles=h.get("gurgle", 0.0)) for h in heard)


@pytest.mark.parametrize(
    ("said", "here", "name"),
    [
        (True, ({"gurgle": 0.05}, {}, {"gurgle": 0.03}), "siphon over-closed"),
        (True, ({"slurp": 0.05}, {"slurp": 0.03}), "siphon over-open"), (True, ({"gurgle": 0.05}, {}), "unknown"),
        (True, ({"gurgle": 0.01}, {"gurgle": 0.01}), "unknown"),
        (False, ({"gurgle": 0.05}, {"gurgle": 0.03}), "unknown"),
    ],
)
def test_a_faint_sound_that_comes_back_is_acted_on_once_it_was_said_that_it_fits_no_cause(
    said: bool, here: tuple[dict[SoundKind, float], ...], name: str
) -> None:
    assert as_heard_again(Cause("unknown", 0.7, ()), {"unknown"} if said else (), marks(*here)).name == name


@pytest.mark.parametrize(("sunk", "name"), [(0.05, "weir drop"), (0.3, "siphon over-open")])
def test_a_splash_that_stays_is_closed_for_where_it_may_be_a_sunk_box(sunk: float, name: str) -> None:
    splash = Diagnosis(False, (), (Cause("weir drop", 0.9, ()),), told({"splash": 0.9}, open=0.1).reading)
    assert leading_cause(splash, {"weir drop"}, Word({"siphon over-open": 0.2}, 0.7, sunk)).name == name


def test_what_is_left_is_turned_for_only_by_a_cause_that_sounds_like_it() -> None:
    splash = Diagnosis(False, (), (Cause("weir drop", 0.8, ()),), told({"splash": 0.9}, open=0.1).reading)
    word = Word({"siphon over-open": 0.2, "vent too closed": 0.5}, 0.3)
    assert leading_cause(splash, {"weir drop"}, word).name == "siphon over-open"


def test_nothing_is_turned_for_what_causes_set_aside_surely_make() -> None:
    word = Word({"vent too wide": 0.8}, 0.1)
    surely = told({"trickle": 1.0, "hiss": 0.5}, air=0.97, wide=0.02)
    assert leading_cause(surely, {"pump drawing air"}, word).name == "pump drawing air"
    assert is_explained(surely, {"pump drawing air"})
    assert not is_explained(surely, ()), "its instruction comes first"
    more = told({"trickle": 1.0, "hiss": 0.5, "slurp": 0.3}, air=0.97, wide=0.02)
    assert not is_explained(more, {"pump drawing air"}), "drawn air makes no gulps"
    assert leading_cause(more, {"pump drawing air"}, word).name == "vent too wide"


def test_what_a_few_moves_have_not_ended_is_left_to_the_cause_set_aside() -> None:
    both = told({"trickle": 1.0, "hiss": 0.5}, air=0.8, wide=0.07)
    word = Word({"vent too wide": 0.8}, 0.1)
    for tried, name in ((0, "vent too wide"), (MOST_TRIALS - 1, "vent too wide"), (MOST_TRIALS, "pump drawing air")):
        assert leading_cause(both, {"pump drawing air"}, word, tried=tried).name == name


def test_a_splash_that_came_after_closing_had_silenced_it_is_that_of_a_sunk_box() -> None:
    hand = hand_for(hands_of(Rig()), "siphon valve")
    assert hand is not None
    splash = Diagnosis(False, (), (Cause("weir drop", 0.9, ()),), told({"splash": 0.9}, open=0.1).reading)
    for levels_db, name in (((-70.0, -50.0), "siphon over-open"), ((-50.0, -50.0), "weir drop")):
        made, gulps = Made(hand, -0.125, None), Mark(0, False, -40.0, gulps=0.5)
        after = [Mark(1, level_db < -60.0, level_db) for level_db in levels_db]
        assert leading_in(splash, Course(moves=[made], marks=[gulps, *after]), None).name == name


def test_what_the_moves_have_disproved_is_taken_for_gulps_and_the_reason_is_said() -> None:
    roar = told(emergency=0.7, open=0.2)
    cause = leading_cause(roar, (), None, {"emergency carrying flow": wording.ROARED_IN_VAIN})
    assert (cause.name, cause.because) == ("siphon over-open", (wording.ROARED_IN_VAIN,))
    assert leading_cause(roar, (), None, {"siphon over-closed": wording.OPENED_IN_VAIN}).name != "siphon over-open"


def test_a_roar_that_came_by_opening_out_of_silence_is_turned_back_for() -> None:
    hand = hand_for(hands_of(Rig()), "siphon valve")
    assert hand is not None
    course = Course(moves=[Made(hand, 0.125, None)], marks=[Mark(0, True, -70.0), Mark(1, False, -40.0, roars=True)])
    cause = leading_in(told(emergency=0.7, open=0.2), course, None)
    assert (cause.name, cause.because) == ("siphon over-open", (wording.ROARED_BY_OPENING,))
    course.seen_running = True
    assert leading_in(told(emergency=0.7, open=0.2), course, None).name == "emergency carrying flow"
