from __future__ import annotations

import numpy as np
import pytest

from tuner.coach import Coach, looks
from tuner.coach.belief import Belief
from tuner.coach.course import Course
from tuner.coach.handwork import hands_of
from tuner.coach.leading import as_seen
from tuner.coach.situation import situation_of
from tuner.coach.surface import AT_NOISE, IN_SILENCE, Seen
from tuner.errors import ConfigError
from tuner.rig import Rig
from tuner.terms import Cause, CauseName, Heard, Levels, Question, Reading, Step

RIG = Rig()
LEVELS = Levels(-50.0, -48.0, -51.0, -52.0, -45.0, (1000.0,), (-50.0,))
SWINGS_LOW, UP, _, AT_ELBOW, OVER = AT_NOISE.choices


def belief() -> Belief:
    return Belief(RIG, np.random.default_rng(1), over_room=False)


def reading(**shares: float) -> Reading:
    heard = tuple(Heard(kind, s, s, 20.0) for kind, s in shares.items())  # type: ignore[arg-type]
    return Reading(25.0, 25.0, LEVELS, (), heard, 20.0 if heard else 0.0, 0.0)


def causes(*named: tuple[CauseName, float]) -> tuple[Cause, ...]:
    return tuple(Cause(name, p, ("heard",)) for name, p in named)


UNSURE = causes(("siphon over-open", 0.5), ("siphon over-closed", 0.45))
SURE = causes(("siphon over-open", 0.97),)


def test_a_sure_cause_that_no_move_has_tried_is_not_asked_about() -> None:
    assert looks.in_noise(SURE, Course(), belief(), trusted=True) is None


def test_an_unsure_cause_is_looked_at_in_the_box() -> None:
    assert looks.in_noise(UNSURE, Course(), belief(), trusted=True) in (AT_NOISE, *_others())


def _others() -> tuple[Question, ...]:
    from tuner.coach.questions import LOOKS

    return tuple(look.question for look in LOOKS)


@pytest.mark.parametrize("trusted", [True, False])
def test_a_move_or_a_contradiction_that_left_noise_asks_whatever_is_believed(trusted: bool) -> None:
    course = Course()
    if trusted:
        course.moved(hands_of(RIG)[0], -0.25, "siphon over-open", 60.0)
    assert looks.in_noise(SURE, course, belief(), trusted=trusted) == AT_NOISE


def test_it_is_asked_once_at_a_setting_and_so_often_in_all() -> None:
    course, thinks = Course(), belief()
    for i in range(looks.MOST_LOOKS):
        course.moved(hands_of(RIG)[0], 0.125, "siphon over-closed", 60.0)
        assert looks.in_noise(SURE, course, thinks, trusted=True) == AT_NOISE, i
        course.looked(AT_NOISE.id, AT_ELBOW, {"siphon over-closed": 0.1})
        assert looks.in_noise(SURE, course, thinks, trusted=True) is None
    course.moved(hands_of(RIG)[0], 0.125, "siphon over-closed", 60.0)
    assert looks.in_noise(SURE, course, thinks, trusted=True) is None


def test_who_cannot_look_is_not_asked_again() -> None:
    course = Course()
    course.moved(hands_of(RIG)[0], 0.125, "siphon over-closed", 60.0)
    course.looked(AT_NOISE.id, None, {})
    course.heard(reading(gurgle=0.9), "siphon over-closed")
    course.moved(hands_of(RIG)[0], 0.125, "siphon over-closed", 60.0)
    assert looks.in_noise(SURE, course, belief(), trusted=True) is None
    assert looks.in_silence(course, belief()) is None


def test_in_silence_it_is_asked_while_the_edges_are_not_known() -> None:
    thinks = belief()
    for _ in range(3):  # silent for a minute: somewhere in the window, nobody knows where
        thinks._weigh(thinks.outlook().quiet + 1e-9)
    assert looks.in_silence(Course(), thinks) == IN_SILENCE


def test_a_dry_channel_that_was_seen_moves_the_belief_to_the_siphons_side() -> None:
    thinks = belief()
    before = thinks.causes()
    odds = thinks.seen(AT_NOISE.id, SWINGS_LOW)
    after = thinks.causes()
    assert odds["siphon over-open"] > 0.5 > 0.0 > odds["siphon over-closed"]
    assert after["siphon over-open"] > before["siphon over-open"]
    assert after["siphon over-closed"] < before["siphon over-closed"]
    assert thinks.weights.sum() == pytest.approx(1.0)


def test_an_answer_that_is_no_choice_is_refused() -> None:
    with pytest.raises(ConfigError, match="must be a question of the coach and its choice"):
        looks.odds_of(AT_NOISE.id, "knee-deep", belief())
    assert looks.odds_of(AT_NOISE.id, None, belief()) == {}


@pytest.mark.parametrize("name", ["vent too closed", "siphon over-closed", "emergency carrying flow", "weir drop"])
def test_below_the_crest_every_other_pipe_is_dry(name: CauseName) -> None:
    # what stands below the crest and the rim runs over neither: geometry
    assert as_seen(Cause(name, 0.9, ()), Seen(AT_NOISE.id, 0, SWINGS_LOW)).name == "siphon over-open"
    assert as_seen(Cause(name, 0.9, ()), Seen(AT_NOISE.id, 0, UP)).name == name
    assert as_seen(Cause(name, 0.9, ()), None).name == name


def test_a_siphon_that_was_seen_to_gulp_is_mended_before_a_splash_at_the_sump() -> None:
    splash, steady_low = Cause("outlet above water", 0.6, ()), AT_NOISE.choices[2]
    assert as_seen(splash, Seen(AT_NOISE.id, 0, SWINGS_LOW)).name == "siphon over-open"
    assert as_seen(splash, Seen(AT_NOISE.id, 0, steady_low)).name == "outlet above water"


def test_a_siphon_that_gulps_lets_the_water_sink_from_the_elbow() -> None:
    gulps = Cause("siphon over-open", 0.9, ())
    for seen, name in ((AT_ELBOW, "siphon over-closed"), (OVER, "siphon over-closed"), (UP, "siphon over-open")):
        assert as_seen(gulps, Seen(AT_NOISE.id, 0, seen)).name == name


@pytest.mark.parametrize(("seen", "moves"), [(AT_ELBOW, False), (SWINGS_LOW, True)])
def test_after_some_hearings_too_faint_to_act_on_eyes_are_asked_and_what_swings_is_acted_on(
    seen: str, moves: bool
) -> None:
    coach = Coach(RIG)
    for _ in range(4):
        coach.hear_reading(reading())
    for kind, trace in (("hiss", 0.2), ("splash", 0.2), ("slurp", 0.1)):  # now and then, in the midst of silence
        coach.hear_reading(reading(**{kind: trace}))
    assert looks.DOUBTS == 3
    assert coach.advise() == AT_NOISE
    coach.look(AT_NOISE.id, seen)
    step = coach.advise()
    assert isinstance(step, Step)
    assert bool(step.amount) == moves
    assert not moves or (step.control, step.amount < 0) == ("siphon valve", True)


def test_a_pump_hums_however_high_the_water_stands() -> None:
    assert as_seen(Cause("pump hum", 0.9, ()), Seen(AT_NOISE.id, 0, SWINGS_LOW)).name == "pump hum"


def test_a_channel_seen_full_is_sent_no_more_whatever_is_heard() -> None:
    coach = Coach(RIG)
    diagnosis = coach.hear_reading(reading(slurp=0.3))
    course = Course()
    assert not situation_of(diagnosis, course, belief(), RIG).gurgling_much
    course.looked(AT_NOISE.id, OVER, {"siphon over-closed": 1.0})
    assert situation_of(diagnosis, course, belief(), RIG).gurgling_much


def test_a_roar_is_no_emergency_pipes_where_the_water_was_seen_below_the_crest_until_something_moves() -> None:
    diagnosis = Coach(RIG).hear_reading(reading(slurp=0.3, roar=0.6))
    course = Course()
    assert situation_of(diagnosis, course, belief(), RIG).emergency > 0.0
    course.looked(AT_NOISE.id, SWINGS_LOW, {"siphon over-open": 1.0})
    assert situation_of(diagnosis, course, belief(), RIG).emergency == 0.0
    course.moved(hands_of(RIG)[0], -0.125, "siphon over-open", 60.0)
    assert situation_of(diagnosis, course, belief(), RIG).emergency > 0.0


def test_water_that_was_seen_at_the_elbow_is_not_opened_in_vain() -> None:
    course = Course(vainly=True)
    course.looked(AT_NOISE.id, SWINGS_LOW, {"siphon over-open": 1.0})
    assert course.vainly
    course.looked(AT_NOISE.id, UP, {"vent too closed": 1.0})
    assert not course.vainly


def gurgled_twice() -> Course:
    """A session in which it gurgled much, was opened by a quarter turn, and gurgled as much."""
    course = Course()
    course.heard(reading(gurgle=0.9), "siphon over-closed")
    course.moved(hands_of(RIG)[0], 0.25, "siphon over-closed", 60.0)
    course.heard(reading(gurgle=0.9), "siphon over-closed")
    return course


def test_a_gurgle_where_the_channel_was_seen_dry_is_a_full_channels_nowhere_until_eyes_say_so() -> None:
    course = gurgled_twice()
    assert course.room_to_close() <= 0.0
    course.looked(AT_NOISE.id, SWINGS_LOW, {"siphon over-open": 1.0})
    assert course.room_to_close() > 0.25
    course.heard(reading(gurgle=0.9), "siphon over-closed")
    assert course.room_to_close() > 0.25
    course.moved(hands_of(RIG)[0], -0.125, "siphon over-open", 60.0)
    course.looked(AT_NOISE.id, AT_ELBOW, {"siphon over-closed": 1.0})
    course.heard(reading(gurgle=0.9), "siphon over-closed")
    assert course.room_to_close() <= 0.0


def test_a_channel_that_was_seen_at_work_stays_so_where_it_was_seen() -> None:
    course = Course()
    course.heard(reading(gurgle=0.9), "siphon over-closed")
    course.looked(AT_NOISE.id, AT_ELBOW, {"siphon over-closed": 1.0})
    course.moved(hands_of(RIG)[0], 0.25, "siphon over-closed", 60.0)
    course.heard(reading(gurgle=0.9), "siphon over-closed")
    course.looked(AT_NOISE.id, SWINGS_LOW, {"siphon over-open": 1.0})
    assert [mark.overfull for mark in course.marks] == [True, False]
    assert 0.0 < course.room_to_close() < 0.25


def test_what_is_seen_at_the_elbow_leaves_the_ears_their_word() -> None:
    course = gurgled_twice()
    course.looked(AT_NOISE.id, AT_ELBOW, {"siphon over-closed": 1.0})
    assert course.room_to_close() <= 0.0


def test_the_coach_asks_hears_the_answer_and_a_restored_session_knows_it() -> None:
    coach = Coach(RIG)
    coach.hear_reading(reading(gurgle=0.9))
    step = coach.advise()
    while isinstance(step, Question):
        coach.look(step.id, None if step != AT_NOISE else AT_ELBOW)
        step = coach.advise()
    assert step is not None
    coach.did(step)
    coach.hear_reading(reading(gurgle=0.9))
    asked = coach.advise()
    assert asked == AT_NOISE
    coach.look(AT_NOISE.id, AT_ELBOW)
    again = Coach.restore(coach.state, RIG)
    assert again.advise() == coach.advise()
    assert not isinstance(coach.advise(), Question)
