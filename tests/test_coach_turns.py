from __future__ import annotations

from dataclasses import replace
from math import inf

import pytest

from tests.test_coach_coach import RIG, heard_as, next_step
from tuner.coach import Coach
from tuner.coach.course import Course
from tuner.coach.handwork import Hand, hand_for, hands_of
from tuner.coach.turns import mean_level_db
from tuner.signatures.reading import PAUSES
from tuner.terms import Control, Heard, Reading, SoundKind

HANDS = hands_of(RIG)
STEP_TURN = 1 / 16
GURGLES: dict[SoundKind, float] = {"gurgle": 0.8}
GULPS: dict[SoundKind, float] = {"slurp": 0.5}


def moved(course: Course, amount: float, control: Control = "siphon valve") -> None:
    hand = hand_for(HANDS, control)
    assert hand is not None
    course.moved(hand, amount, None, 60.0)


def gurgled(then: float, shares: dict[SoundKind, float], level_db: float) -> Course:
    """A gurgle at -40 dB, a move of the siphon by ``then`` turns, and what was heard after it."""
    course = Course()
    course.heard(heard_as(GURGLES, level_db=-40.0), "siphon over-closed")
    moved(course, then)
    course.heard(heard_as(shares, level_db=level_db), "siphon over-open")
    return course


def test_without_a_gurgle_the_siphon_may_be_closed_at_will() -> None:
    course = Course()
    assert course.room_to_close() == inf
    course.heard(heard_as(GULPS), "siphon over-open")
    moved(course, -0.25)
    assert course.room_to_close() == inf


def test_the_siphon_stays_wider_than_where_the_channel_gurgled_much() -> None:
    course = gurgled(0.25, GULPS, -46.0)
    assert course.room_to_close() == pytest.approx(0.25 - STEP_TURN)
    moved(course, -(0.25 - STEP_TURN))
    assert course.room_to_close() == pytest.approx(0.0)


@pytest.mark.parametrize(
    ("then", "shares", "level_db", "free"),
    [
        (STEP_TURN, GULPS, -46.0, False),  # quieter than the gurgle was: the channel carries less
        (STEP_TURN, GULPS, -40.0, True),  # as loud: what was taken for a gurgle were gulps
        (STEP_TURN, {"slurp": 0.5, "gurgle": 0.3}, -40.0, False),
        (-STEP_TURN, GULPS, -46.0, True),  # further closed, and hardly a gurgle
        (-STEP_TURN, {"gurgle": 0.3}, -46.0, False),
        (4 * STEP_TURN, GULPS, -40.0, False),
    ],
)
def test_what_is_heard_there_since_may_speak_against_the_gurgle(
    then: float, shares: dict[SoundKind, float], level_db: float, free: bool
) -> None:
    assert (gurgled(then, shares, level_db).room_to_close() == inf) is free


def test_a_pump_that_was_moved_makes_the_gurgle_past() -> None:
    course = gurgled(0.25, GULPS, -46.0)
    moved(course, -5.0, "return pump")
    assert course.room_to_close() == inf


FLOODED: dict[SoundKind, float] = {"flush": 0.3, "gurgle": 0.4, "slurp": 0.3}


def opened(times: int, shares: dict[SoundKind, float], level_db: float) -> Course:
    """A flush at -40 dB, so many openings, and what was heard after each."""
    course = Course()
    course.heard(heard_as(FLOODED, level_db=-40.0), "vent too closed")
    for _ in range(times):
        moved(course, 0.25)
        course.heard(heard_as(shares, level_db=level_db), "vent too closed")
    return course


@pytest.mark.parametrize(
    ("times", "shares", "level_db", "vainly"),
    [
        (3, FLOODED, -40.0, True), (2, FLOODED, -40.0, False),
        (3, FLOODED, -44.0, False),  # clearly quieter: the channel carries less
        (3, {"flush": 0.3, "gurgle": 0.4}, -40.0, False),  # no gulps
    ],
)
def test_a_siphon_that_gulps_after_three_openings_was_opened_in_vain(
    times: int, shares: dict[SoundKind, float], level_db: float, vainly: bool
) -> None:
    assert opened(times, shares, level_db).vainly == vainly


def came_and_went(
    amount: float, rests: tuple[float, float], levels_db: tuple[float, float], control: Control = "siphon valve"
) -> Course:
    """Gulps heard as flushes, a move, and the same with other pauses at another level."""
    course = Course()
    for i, (pauses, level_db) in enumerate(zip(rests, levels_db, strict=True)):
        if i:
            moved(course, amount, control)
        course.heard(replace(heard_as(FLOODED, level_db=level_db), features={PAUSES: pauses}), "vent too closed")
    return course


@pytest.mark.parametrize(
    ("amount", "rests", "levels_db", "vainly"),
    [
        (0.25, (0.8, 0.5), (-40.0, -40.0), True),  # it rests far less
        (0.25, (0.8, 0.65), (-40.0, -37.0), True),  # it rests less, and fills more of the time
        (0.25, (0.6, 0.0), (-40.0, -49.0), False),  # a flush that ended in a faint gurgle
        (0.25, (0.8, 0.65), (-40.0, -40.0), False), (0.25, (0.8, 0.9), (-40.0, -37.0), False),
        (0.25, (0.2, 0.0), (-40.0, -37.0), False),  # it did not rest before
        (-0.25, (0.8, 0.5), (-40.0, -37.0), False),  # closed: a flush comes more often by it
    ],
)
def test_what_comes_more_often_by_opening_the_siphon_is_gulps(
    amount: float, rests: tuple[float, float], levels_db: tuple[float, float], vainly: bool
) -> None:
    assert came_and_went(amount, rests, levels_db).vainly == vainly


@pytest.mark.parametrize(("amount", "pauses", "vainly"), [(0.25, 0.8, True), (-0.25, 0.8, False), (0.25, 0.0, False)])
def test_what_begins_to_come_and_go_as_the_siphon_is_opened_in_silence_is_gulps(
    amount: float, pauses: float, vainly: bool
) -> None:
    course = Course()
    course.heard(heard_as({}), None)
    moved(course, amount)
    course.heard(replace(heard_as({"flush": 0.2}), features={PAUSES: pauses}), "vent too closed")
    assert course.vainly == vainly


@pytest.mark.parametrize(
    ("amount", "shares", "pauses", "vain"),
    [
        (-0.25, {"slurp": 0.4, "gurgle": 0.3}, 0.5, True), (-0.25, {"slurp": 0.4}, 0.0, True),
        (-0.25, {"slurp": 0.1}, 0.8, False),  # a slow cycle that was missed in the silence before
        (0.25, {"slurp": 0.4, "gurgle": 0.3}, 0.5, False), (-0.25, {}, 0.0, False),
    ],
)
def test_what_begins_with_a_closing_in_silence_is_the_open_channels(
    amount: float, shares: dict[SoundKind, float], pauses: float, vain: bool
) -> None:
    course = Course()
    course.heard(heard_as({}), None)
    moved(course, amount)
    course.heard(replace(heard_as(shares), features={PAUSES: pauses}), "siphon over-open" if shares else None)
    assert course.turns.closed_in_vain() == vain


@pytest.mark.parametrize(
    ("amount", "rests", "vain"),
    [(-0.25, (0.7, 0.1), True), (-0.25, (0.7, 0.6), False), (-0.25, (0.7, 0.9), False), (0.25, (0.7, 0.1), False)],
)
def test_gulps_that_no_longer_rest_after_a_closing_are_the_open_channels(
    amount: float, rests: tuple[float, float], vain: bool
) -> None:
    assert came_and_went(amount, rests, (-40.0, -40.0)).turns.closed_in_vain() == vain


def test_what_comes_more_often_with_another_control_says_nothing() -> None:
    assert not came_and_went(0.25, (0.8, 0.5), (-40.0, -37.0), "vent tap").vainly


def test_gulps_that_rest_are_closed_further_than_the_siphon_was_found() -> None:
    course = came_and_went(0.25, (0.8, 0.5), (-40.0, -37.0))
    for pauses in (0.6, 0.7):
        moved(course, -0.25)
        course.heard(replace(heard_as(FLOODED, level_db=-41.0), features={PAUSES: pauses}), "vent too closed")
        assert course.vainly
    assert course.turns.total("siphon valve") < 0.0
    assert course.room_to_close() > 0.0


def test_what_never_rests_is_closed_by_the_finest_steps_beyond_where_the_siphon_was_found() -> None:
    course = opened(3, FLOODED, -40.0)
    assert course.vainly
    assert course.room_to_close() == pytest.approx(0.75 - STEP_TURN)
    moved(course, -0.6875)
    course.heard(heard_as(FLOODED, level_db=-41.0), "vent too closed")
    assert course.vainly
    assert course.room_to_close() == pytest.approx(STEP_TURN)


def test_a_roar_ends_what_was_opened_in_vain() -> None:
    course = opened(3, FLOODED, -40.0)
    course.heard(heard_as({**FLOODED, "roar": 0.6}, level_db=-30.0), "emergency carrying flow")
    assert not course.vainly


@pytest.mark.parametrize(("level_db", "vainly"), [(-40.5, True), (-42.0, False)])
def test_a_siphon_that_was_opened_far_to_and_fro_and_gulps_as_loud_was_opened_in_vain(
    level_db: float, vainly: bool
) -> None:
    course = Course()
    course.heard(heard_as(FLOODED, level_db=-40.0), "vent too closed")
    for amount in (0.625, -0.25, 0.375):
        assert not course.vainly
        moved(course, amount)
        course.heard(heard_as(FLOODED, level_db=-44.0 if amount < 0.3 else level_db), "vent too closed")
        if course.vainly:
            break
    assert course.vainly == vainly


def test_in_silence_nothing_was_opened_in_vain() -> None:
    course = came_and_went(0.25, (0.8, 0.5), (-40.0, -37.0))
    moved(course, -0.125)
    course.heard(heard_as({"slurp": 0.02}), None)
    assert not course.vainly


def test_closings_count_as_in_vain_only_beyond_what_was_opened() -> None:
    course = Course()
    moved(course, 1.0)
    for _ in range(7):  # four of them take back what was opened
        course.heard(heard_as({"slurp": 0.6}, level_db=-40.0), "siphon over-open")
        assert not course.turns.closed_in_vain()
        moved(course, -0.25)
    course.heard(heard_as({"slurp": 0.6}, level_db=-40.0), "siphon over-open")
    assert course.turns.closed_in_vain()


@pytest.mark.parametrize(("between", "vain"), [(0, True), (1, False), (4, False)])
def test_gulps_that_became_rare_are_as_loud_as_before_but_were_not_closed_in_vain(between: int, vain: bool) -> None:
    """0.1 of a window before and 0.1 of it after three closings, with silent windows of the last setting between."""
    course = Course()
    course.heard(heard_as({"slurp": 0.1}, level_db=-46.0), "siphon over-open")
    for _ in range(3):
        moved(course, -0.25)
    for _ in range(between):
        course.heard(heard_as({}, level_db=-60.0), None)
    course.heard(heard_as({"slurp": 0.1}, level_db=-46.0), "siphon over-open")
    assert course.turns.closed_in_vain() == vain


@pytest.mark.parametrize(("then_s", "now_s", "vain"), [(6.0, 9.0, False), (6.0, 6.5, True), (None, 9.0, True)])
def test_gulps_that_fill_as_much_of_the_time_but_return_more_seldom_were_not_closed_in_vain(
    then_s: float | None, now_s: float, vain: bool
) -> None:
    course = Course()
    course.heard(gulps_every(then_s), "siphon over-open")
    for _ in range(3):
        moved(course, -0.25)
    course.heard(gulps_every(now_s), "siphon over-open")
    assert course.turns.closed_in_vain() == vain


def test_gulps_have_cycled_until_the_pump_is_moved() -> None:
    course = Course()
    course.heard(gulps_every(None), "siphon over-open")
    assert not course.turns.cycled()
    course.heard(gulps_every(6.0), "siphon over-open")
    moved(course, -0.25)
    course.heard(gulps_every(None), "siphon over-open")
    assert course.turns.cycled()
    course.moved(PUMP, 5.0, None, 60.0)
    course.heard(gulps_every(None), "siphon over-open")
    assert not course.turns.cycled()


def gulps_every(period_s: float | None) -> Reading:
    return replace(heard_as({}, level_db=-46.0), heard=(Heard("slurp", 0.4, 0.4, 20.0, period_s, 3),))


def test_a_bout_that_filled_little_of_its_window_before_did_not_grow_by_closing() -> None:
    """-46 and then -40 dB in one window of four: a mean of -46 dB."""
    course = Course()
    course.heard(heard_as({"slurp": 0.03}, level_db=-46.0), "siphon over-open")
    for _ in range(2):
        moved(course, -0.25)
    for _ in range(3):
        course.heard(heard_as({}, level_db=-70.0), None)
    course.heard(heard_as({"slurp": 0.1}, level_db=-40.0), "siphon over-open")
    assert mean_level_db(course.turns.marks_here()) == pytest.approx(-46.0, abs=0.05)
    assert not course.turns.closed_in_vain()


PUMP = Hand("return pump", "percent", 1.0, 15.0, 1.0, 100.0)


def closed_by(amount: float, before: dict[SoundKind, float], after: dict[SoundKind, float], opened: float) -> Course:
    """Opened by so much, then closed, with what was heard before and after the closing."""
    course = Course()
    if opened:
        moved(course, opened)
    course.heard(heard_as(before), "siphon over-open" if before else None)
    moved(course, -amount)
    course.heard(heard_as(after, level_db=-30.0), "siphon over-closed" if after else None)
    return course


@pytest.mark.parametrize(
    ("before", "after", "opened", "ill"),
    [
        ({"slurp": 0.5}, {"gurgle": 0.8}, 0.0, 0.5), ({}, {"roar": 0.6}, 0.0, 0.5), ({"slurp": 0.5}, {}, 0.0, inf),
        ({"gurgle": 0.8}, {"gurgle": 0.8}, 0.0, inf),  # was closed too far before
        ({"slurp": 0.5}, {"gurgle": 0.8}, 1.0, inf),  # took back what was opened
    ],
)
def test_a_closing_after_which_the_channel_carries_too_much_is_known(
    before: dict[SoundKind, float], after: dict[SoundKind, float], opened: float, ill: float
) -> None:
    assert closed_by(0.5, before, after, opened).turns.closed_ill() == ill


def test_far_beyond_what_it_needs_the_siphon_was_opened_in_vain_whatever_is_heard_beside() -> None:
    course = Course()
    sounds: dict[SoundKind, float] = {"slurp": 0.6, "roar": 0.6}
    course.heard(heard_as(sounds, level_db=-40.0), "emergency carrying flow")
    for turns in (0.5, 0.5, 0.25):
        moved(course, turns)
        course.heard(heard_as(sounds, level_db=-40.0), "emergency carrying flow")
        assert not course.vainly
    moved(course, 0.25)
    course.heard(heard_as(sounds, level_db=-40.0), "emergency carrying flow")
    assert course.vainly


def test_the_openings_add_up_and_a_pump_that_moves_makes_what_was_heard_past() -> None:
    course = Course()
    course.heard(heard_as({"slurp": 0.5}), "siphon over-open")
    moved(course, 0.25)
    course.moved(PUMP, -5.0, None, 60.0)
    moved(course, -0.5)
    assert course.turns.openings() == [0.0, 0.25, 0.25, -0.25]
    assert not course.turns.marks_at_this_speed()
    course.heard(heard_as({}), None)
    assert [mark.moves for mark in course.turns.marks_at_this_speed()] == [3]


def test_it_stays_opened_in_vain_until_far_more_than_all_of_it_is_taken_back() -> None:
    course = opened(3, FLOODED, -40.0)
    for left in (0.5, 0.25, 0.0, -0.25, -0.5, -0.75):
        moved(course, -0.25)
        course.heard(heard_as(FLOODED, level_db=-44.0 if left > -0.75 else -38.0), "vent too closed")
        assert course.vainly == (left > -0.75)


@pytest.mark.parametrize(
    ("amount", "levels_db", "flush", "vainly"),
    [
        (0.375, (-40.0, -40.0), 0.0, True), (0.375, (-40.0, -42.0), 0.0, False), (0.25, (-40.0, -40.0), 0.0, False),
        (-0.375, (-40.0, -39.5), 0.0, True), (-0.375, (-42.0, -40.0), 0.0, False), (0.375, (-40.0, -40.0), 0.6, False),
    ],
)
def test_gulps_that_are_no_quieter_with_the_siphon_far_wider_are_no_full_channels(
    amount: float, levels_db: tuple[float, float], flush: float, vainly: bool
) -> None:
    course, before = Course(), levels_db[0]
    course.heard(heard_as({"slurp": 0.5, "gurgle": 0.9, "flush": flush}, level_db=before), "siphon over-closed")
    moved(course, amount)
    course.heard(heard_as({"slurp": 0.5, "gurgle": 0.9, "flush": flush}, level_db=levels_db[1]), "siphon over-closed")
    assert course.vainly == vainly


def test_after_openings_in_vain_the_siphon_is_closed_again_whatever_it_sounds_like() -> None:
    coach = Coach(RIG)
    amounts = []
    for _ in range(40):
        step = next_step(coach, heard_as(FLOODED, level_db=-40.0))
        if step is None or (amounts and step.control == "siphon valve" and step.amount < 0):
            break
        amounts.append(step.amount if step.control == "siphon valve" else 0.0)
        coach.did(step)
    assert step is not None
    assert step.amount < 0
    assert sum(amount > 0 for amount in amounts) >= 3


@pytest.mark.parametrize(("flushed", "amount", "free"), [(0.3, 0.25, True), (0.0, 0.25, False), (0.3, -0.25, False)])
def test_air_that_was_given_to_a_flush_makes_its_gurgle_past(flushed: float, amount: float, free: bool) -> None:
    course = Course()
    course.heard(heard_as({**GURGLES, "flush": flushed}, level_db=-40.0), "vent too closed")
    moved(course, amount, "vent tap")
    course.heard(heard_as({"slurp": 0.5, "gurgle": 0.25}, level_db=-46.0), "siphon over-open")
    assert (course.room_to_close() == inf) is free


@pytest.mark.parametrize(
    ("left", "level_db", "vain"),
    [({"splash": 0.9}, -50.0, False), ({"splash": 0.9}, -40.0, True), ({"splash": 0.9, "gurgle": 0.5}, -50.0, True)],
)
def test_what_falls_on_when_gulps_have_ceased_by_a_closing_is_not_the_open_channels(
    left: dict[SoundKind, float], level_db: float, vain: bool
) -> None:
    course = Course()
    course.heard(replace(heard_as(GULPS, level_db=-40.0), features={PAUSES: 0.7}), "siphon over-open")
    moved(course, -0.25)
    course.heard(replace(heard_as(left, level_db=level_db), features={PAUSES: 0.0}), "weir drop")
    assert course.turns.closed_in_vain() == vain


def fell(levels_db: tuple[float, ...], turns: tuple[float, ...], last: dict[SoundKind, float] | None = None) -> Course:
    """A splash at each of these levels, with a turn of the siphon between; what is heard at the end, a splash too."""
    course = Course()
    for level_db, turn in zip(levels_db[:-1], turns, strict=True):
        course.heard(heard_as({"splash": 1.0}, level_db=level_db), "weir drop")
        moved(course, turn)
    course.heard(heard_as(last or {"splash": 1.0}, level_db=levels_db[-1]), "weir drop")
    return course


@pytest.mark.parametrize(
    ("levels_db", "turns", "follows"),
    [
        ((-40.0, -41.5, -43.5), (-0.25, -0.25), True),
        ((-40.0, -41.0, -40.5), (-0.25, -0.25), False),  # it stays
        ((-43.5, -40.0), (0.25,), True),
        ((-40.0, -43.5), (0.25,), False),  # quieter by opening: not a box that sinks
        ((-40.0, -44.0), (0.0,), False),  # nothing was turned
    ],
)
def test_a_splash_follows_the_siphon_where_it_is_quieter_with_it_closer(
    levels_db: tuple[float, ...], turns: tuple[float, ...], follows: bool
) -> None:
    assert fell(levels_db, turns).turns.splash_follows() == follows


def test_a_splash_does_not_follow_where_something_else_is_heard_or_was_moved() -> None:
    assert not fell((-40.0, -44.0), (-0.25,), {"splash": 1.0, "slurp": 0.3}).turns.splash_follows()
    course = fell((-40.0, -40.0), (-0.25,))
    moved(course, -5.0, "return pump")
    course.heard(heard_as({"splash": 1.0}, level_db=-46.0), "weir drop")
    assert not course.turns.splash_follows()


def test_what_was_opened_in_vain_is_closed_beyond_its_start_by_steps_that_double_until_a_gurgle_comes() -> None:
    course, sizes = Course(), []
    course.heard(heard_as({"slurp": 0.6, "splash": 1.0}), "siphon over-open")
    moved(course, 4.0)
    course.heard(heard_as({"slurp": 0.6, "splash": 1.0}), "siphon over-open")
    assert course.vainly
    moved(course, -4.0)
    for _ in range(4):
        course.heard(heard_as({"slurp": 0.6, "splash": 1.0}), "siphon over-open")
        sizes.append(course.room_to_close())
        moved(course, -STEP_TURN)
    assert sizes == pytest.approx([STEP_TURN, 2 * STEP_TURN, 4 * STEP_TURN, 8 * STEP_TURN])
    course.heard(heard_as({"slurp": 0.6, "splash": 1.0, "gurgle": 0.3}), "siphon over-open")
    assert course.room_to_close() == pytest.approx(STEP_TURN)


@pytest.mark.parametrize(
    ("amount", "levels_db", "helped"),
    [
        (-0.25, (-47.0,), True),
        (-0.25, (-44.0,), False),  # hardly quieter
        (0.25, (-47.0,), False),  # a full channel grows quieter by opening too
        (-0.25, (None, -44.0), True),  # silent for a while
        (-0.25, (None, -41.0), False),  # and then as loud as before
        (-0.25, (-47.0, -41.0), False),
    ],
)
def test_a_closing_helped_where_it_grew_far_quieter_or_silent_and_is_so_yet(
    amount: float, levels_db: tuple[float | None, ...], helped: bool
) -> None:
    course = Course()
    course.heard(heard_as(GULPS, level_db=-40.0), "siphon over-open")
    moved(course, amount)
    for level_db in levels_db:
        if level_db is None:
            course.heard(heard_as({}, level_db=-70.0), None)
        else:
            course.heard(heard_as({"splash": 0.5}, level_db=level_db), "weir drop")
    assert course.turns.closing_helped() == helped
    assert course.turns.came_after_closing() == (helped and None in levels_db)
    moved(course, -0.25)
    assert not course.turns.closing_helped(), "nothing was heard since"
