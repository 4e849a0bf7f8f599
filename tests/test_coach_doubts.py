from __future__ import annotations

from dataclasses import replace

import pytest

from tests.bench.looking import next_step
from tuner.causes.rules import load_causes
from tuner.coach import Coach
from tuner.coach.doubts import AGAIN_WITHIN_S, LIVELY_S, MOST_DOUBTS, OFTEN, SPEAKING, Doubts, hints_of, is_plain
from tuner.rig import Channel, Pump, Rig
from tuner.terms import CAUSE_NAMES, Cause, CauseName, Diagnosis, Heard, Levels, Question, Reading, SoundKind, Step

SILENCE = load_causes().silence
LEVELS = Levels(-40.0, -38.0, -41.0, -43.0, -35.0, (1000.0,), (-45.0,))
RIG = Rig(channel=Channel(vent_hole_m=0.012), pumps=(Pump(speed=0.8, speed_step=0.05),))
WINDOW_S = 20.0


def reading(
    shares: dict[SoundKind, float], outside: float, period_s: float | None = None, events: int = 2
) -> Reading:
    heard = tuple(Heard(kind, share, share, 15.0, period_s, events, 1.0) for kind, share in shares.items())
    return Reading(WINDOW_S, WINDOW_S * (1 - outside), LEVELS, (), heard, 15.0 if heard else 0.0, outside)


def named(cause: CauseName | None, shares: dict[SoundKind, float], outside: float, sure: float = 0.9) -> Diagnosis:
    causes = () if cause is None else (Cause(cause, sure, ("heard",)),)
    return Diagnosis(cause is None, (), causes, reading(shares, outside))


def next_words(coach: Coach) -> str:
    step = coach.advise()
    assert isinstance(step, Step)
    return step.why


def test_a_noise_in_a_still_room_counts_at_once() -> None:
    assert not Doubts(over_room=False).is_doubtful(named("siphon over-open", {"slurp": 0.1}, 0.0), SILENCE)


def test_a_short_noise_in_a_lively_room_counts_at_its_second_hearing() -> None:
    doubts = Doubts(over_room=False)
    gulp = named("siphon over-open", {"slurp": 0.1}, 0.2)
    assert doubts.is_doubtful(gulp, SILENCE)
    assert not doubts.is_doubtful(gulp, SILENCE)


def test_two_hearings_far_apart_or_of_two_causes_are_two_doubts() -> None:
    doubts = Doubts(over_room=False)
    assert doubts.is_doubtful(named("siphon over-open", {"slurp": 0.1}, 0.2), SILENCE)
    assert doubts.is_doubtful(named("siphon over-closed", {"gurgle": 0.2}, 0.2), SILENCE)
    for _ in range(int(AGAIN_WITHIN_S / WINDOW_S)):
        assert not doubts.is_doubtful(named(None, {}, 0.2), SILENCE)
    assert doubts.is_doubtful(named("siphon over-open", {"slurp": 0.1}, 0.2), SILENCE)


@pytest.mark.parametrize(
    ("kind", "outside", "counts"), [("gurgle", 0.0, True), ("hiss", 0.0, False), ("gurgle", 0.2, False)]
)
def test_what_fits_no_cause_but_comes_often_in_a_still_room_counts(
    kind: SoundKind, outside: float, counts: bool
) -> None:
    doubts = Doubts(over_room=False)
    assert not doubts.is_doubtful(named(None, {}, outside), SILENCE)
    brief = named("unknown", {kind: 0.04}, outside, 0.5)
    told = []
    for _ in range(OFTEN):
        told.append(doubts.is_doubtful(brief, SILENCE))
        doubts.is_doubtful(named(None, {}, outside), SILENCE)
    assert told == [*(OFTEN - 1) * [True], not counts]
    doubts.moved()
    doubts.is_doubtful(named(None, {}, outside), SILENCE)
    assert doubts.is_doubtful(brief, SILENCE)


def test_a_move_begins_anew() -> None:
    doubts = Doubts(over_room=False)
    gulp = named("siphon over-open", {"slurp": 0.1}, 0.2)
    assert doubts.is_doubtful(gulp, SILENCE)
    doubts.count = 1
    doubts.moved()
    assert doubts.count == 0
    assert doubts.is_doubtful(gulp, SILENCE)


def test_a_room_stays_lively_for_a_while_and_then_is_still() -> None:
    doubts = Doubts(over_room=False)
    doubts.is_doubtful(named(None, {}, 0.3), SILENCE)
    gulp = named("siphon over-open", {"slurp": 0.1}, 0.0)
    assert doubts.is_doubtful(gulp, SILENCE)
    doubts.moved()
    for _ in range(int(LIVELY_S / WINDOW_S)):
        doubts.is_doubtful(named("vent too wide", {"trickle": 0.9}, 0.0), SILENCE)
    assert not doubts.is_doubtful(gulp, SILENCE)


def test_a_faint_noise_in_the_midst_of_silence_counts_at_its_second_hearing_even_minutes_later() -> None:
    doubts = Doubts(over_room=False)
    gulp = named("siphon over-open", {"slurp": 0.1}, 0.0)
    doubts.is_doubtful(named(None, {}, 0.0), SILENCE)
    assert doubts.is_doubtful(gulp, SILENCE)
    for _ in range(10):
        doubts.is_doubtful(named(None, {}, 0.0), SILENCE)
    assert not doubts.is_doubtful(gulp, SILENCE)


def test_a_clear_noise_in_the_midst_of_silence_counts_at_once() -> None:
    doubts = Doubts(over_room=False)
    doubts.is_doubtful(named(None, {}, 0.0), SILENCE)
    assert not doubts.is_doubtful(named("siphon over-open", {"slurp": 0.4}, 0.0), SILENCE)


@pytest.mark.parametrize(
    ("cause", "heard", "plain"),
    [("vent too wide", reading({"trickle": 0.9}, 0.3), True),
     ("siphon over-open", reading({"slurp": 0.2}, 0.3, period_s=9.0, events=3), True),
     ("siphon over-open", reading({"slurp": 0.2}, 0.3, period_s=9.0, events=2), False),
     ("siphon over-closed", reading({"gurgle": 0.7}, 0.3), False),
     ("siphon over-open", reading({"slurp": 0.2, "splash": 0.9}, 0.3), False),
     ("outlet above water", reading({"slurp": 0.2, "splash": 0.9}, 0.3), True),
     ("unknown", reading({"slurp": 0.2, "splash": 0.9}, 0.3), False)],
)
def test_plain_in_a_lively_room_is_what_speaks_for_the_cause_and_fills_the_window_or_returns_more_than_once(
    cause: CauseName, heard: Reading, plain: bool
) -> None:
    diagnosis = Diagnosis(False, (), (Cause(cause, 0.9, ("x",)),), heard)
    assert is_plain(diagnosis, lively=True) == plain
    assert Doubts(over_room=False).is_doubtful(diagnosis, SILENCE) != plain


def test_in_a_still_room_two_onsets_are_plain() -> None:
    gulps = Diagnosis(
        False, (), (Cause("siphon over-open", 0.9, ("x",)),), reading({"slurp": 0.1}, 0.0, period_s=9.0, events=2)
    )
    assert is_plain(gulps, lively=False)


def test_every_cause_of_the_plumbing_has_a_sound_that_speaks_for_it() -> None:
    assert set(SPEAKING) == set(CAUSE_NAMES) - {"outside noise", "unknown"}


def test_what_does_not_rise_over_a_measured_room_is_doubtful_in_the_midst_of_silence() -> None:
    heard = Diagnosis(
        False, (), (Cause("outlet above water", 0.9, ("x",)),),
        replace(reading({"splash": 0.7}, 0.0), excess_db=0.4),
    )
    for over_room in (True, False):
        doubts = Doubts(over_room=over_room)
        doubts.is_doubtful(named(None, {}, 0.0), SILENCE)
        assert doubts.is_doubtful(heard, SILENCE) == over_room


def test_what_is_unsure_or_unknown_speaks_for_no_cause() -> None:
    assert hints_of(named("siphon over-open", {"slurp": 0.1}, 0.2, sure=0.3), 0.5) == {}
    assert hints_of(named("unknown", {"slurp": 0.1}, 0.2), 0.5) == {}
    assert hints_of(named("outside noise", {"slurp": 0.1}, 0.2), 0.5) == {}
    assert hints_of(named("vent too closed", {"flush": 0.1}, 0.2), 0.5) == {"vent too closed": 0.9}


@pytest.mark.parametrize(("outside", "counts"), [(0.0, True), (0.2, False)])
def test_a_sure_hearing_and_a_hint_of_the_same_count_in_a_still_room_only(outside: float, counts: bool) -> None:
    doubts = Doubts(over_room=False)
    doubts.is_doubtful(named(None, {}, outside), SILENCE)
    assert doubts.is_doubtful(named("siphon over-open", {"slurp": 0.1}, outside, sure=0.95), SILENCE)
    assert doubts.is_doubtful(named("siphon over-open", {"slurp": 0.04}, outside, sure=0.1), SILENCE) != counts


def test_the_coach_turns_nothing_on_a_doubt_and_ends_when_doubt_remains() -> None:
    coach = Coach(RIG)
    kinds: tuple[SoundKind, ...] = ("slurp", "gurgle", "flush")
    for i in range(40):
        # a brief noise of another kind each time, with a silent window between
        coach.hear_reading(reading({kinds[i // 2 % 3]: 0.2} if i % 2 == 0 else {}, 0.2))
        step = next_step(coach)
        if step is None:
            break
        assert isinstance(step, Step)
        if step.amount and step.why.startswith("It is silent"):  # parking
            coach.did(step, 0.0)
            continue
        assert step.amount == 0
        coach.did(step)
    else:
        pytest.fail("it never ended")


def test_household_noises_between_silent_windows_turn_nothing_and_do_not_end_in_doubt() -> None:
    coach = Coach(RIG)
    noises: list[dict[SoundKind, float]] = [{"slurp": 0.06}, {"gurgle": 0.3}, {"flush": 0.05}, {"slurp": 0.2}]
    for i in range(60):
        quiet = i < 6 or i % 3
        coach.hear_reading(reading({} if quiet else noises[i // 3 % len(noises)], 0.2))
        step = next_step(coach)
        if step is None:
            break
        assert isinstance(step, Step)
        moved = "middle" in step.why
        assert step.amount == 0 or moved
        coach.did(step, 0.0 if moved else None)
    else:
        pytest.fail("it never ended")
    assert "It is silent" in coach.summary().text
    assert "quieter hour" in coach.summary().text


def test_gulps_in_every_window_of_a_lively_room_are_not_passing() -> None:
    coach = Coach(RIG)
    for _ in range(4):
        coach.hear_reading(reading({"slurp": 0.3}, 0.2))
        step = coach.advise()
        assert isinstance(step, Step)
        if step.amount:
            assert (step.control, step.amount < 0) in {("siphon valve", True), ("return pump", False)}
            return
        coach.did(step)
    pytest.fail("it never moved")


def test_a_gulp_that_passes_by_ends_no_silence_but_the_wait_for_the_next() -> None:
    coach = Coach(RIG)
    for shares in ({}, {}, {}, {}, {"slurp": 0.12}):
        coach.hear_reading(reading(shares, 0.2))
    assert "listen" in next_words(coach)
    assert coach._course.silent_s == 5 * 0.8 * WINDOW_S
    assert coach._course.unheard_s == 0.0


@pytest.mark.parametrize(
    ("quiet", "noise", "passing"), [(0.7, 0.2, True), (0.4, 0.5, False), (0.3, 0.1, False)]
)
@pytest.mark.parametrize("share", [0.2, 0.9])
def test_a_noise_passes_by_where_silence_is_likelier(share: float, quiet: float, noise: float, passing: bool) -> None:
    gulps = named("siphon over-open", {"slurp": share}, 0.2)
    assert Doubts(over_room=False).is_passing(gulps, quiet, {"siphon over-open": noise}) == passing


def test_what_is_plain_twice_in_short_time_does_not_pass_by() -> None:
    doubts = Doubts(over_room=False)
    rush, gulp = named("vent too closed", {"hiss": 0.9}, 0.2), named("siphon over-open", {"slurp": 0.2}, 0.2)
    told = []
    for heard in (rush, gulp, rush):
        doubts.is_doubtful(heard, SILENCE)
        told.append(doubts.is_passing(heard, 0.7, {}))
    assert told == [True, True, False]
    doubts.moved()
    assert doubts.is_passing(rush, 0.7, {})
    for _ in range(int(AGAIN_WITHIN_S / WINDOW_S) + 1):
        doubts.is_doubtful(named(None, {}, 0.2), SILENCE)
    assert doubts.is_passing(rush, 0.7, {})


def test_what_passed_by_clearly_is_said_once_until_the_next_move() -> None:
    doubts = Doubts(over_room=False)
    assert doubts.remark() == ""
    for sure in (0.5, 0.95, 0.95):
        doubts.is_passing(named("siphon over-open", {"slurp": 0.2}, 0.2, sure), 0.7, {})
        doubts.is_passing(named("vent too closed", {"flush": 0.1}, 0.2, 0.5), 0.7, {})
    doubts.is_passing(named("siphon over-closed", {"gurgle": 0.4}, 0.2, 0.95), 0.2, {})
    assert doubts.remark().count("siphon over-open") == 1
    assert "vent" not in doubts.remark()
    assert "over-closed" not in doubts.remark()
    doubts.moved()
    assert doubts.remark() == ""


def test_a_household_that_never_rests_ends_in_doubt() -> None:
    coach = Coach(RIG)
    kinds: tuple[SoundKind, ...] = ("hum", "trickle", "rattle", "splash")
    for i in range(90):
        # silent enough at first for the belief, then something else in every window
        coach.hear_reading(reading({} if i < 6 else {kinds[i % len(kinds)]: 0.3}, 0.2))
        step = coach.advise()
        if isinstance(step, Question):
            coach.look(step.id, None)
            step = coach.advise()
        if step is None:
            break
        assert isinstance(step, Step)
        coach.did(step, 0.0 if step.amount else None)
    else:
        pytest.fail("it never ended")
    assert "quieter hour" in coach.summary().text


def test_a_plain_noise_in_a_lively_room_is_acted_on_at_once() -> None:
    coach = Coach(RIG)
    coach.hear_reading(reading({"gurgle": 0.95}, 0.2))
    step = coach.advise()
    assert isinstance(step, Step)
    assert step.amount != 0


def test_of_a_recording_even_a_brief_noise_counts() -> None:
    coach = Coach(RIG, hears_again=False)
    coach.hear_reading(reading({"slurp": 0.1}, 0.2))
    step = coach.advise()
    assert isinstance(step, Step)
    assert step.amount != 0


def test_hearings_that_were_not_acted_on_are_counted_once_each_until_a_move() -> None:
    coach = Coach(RIG)
    for _ in range(4):
        coach.hear_reading(reading({}, 0.0))
    kinds: tuple[SoundKind, ...] = ("hiss", "splash")
    for kind in kinds:
        coach.hear_reading(reading({kind: 0.1}, 0.0))
    assert coach._doubts.held_back == 2
    coach._doubts.moved()
    assert coach._doubts.held_back == 0


@pytest.mark.parametrize(
    ("levels_db", "outside", "counts"),
    [
        ((25.0, 27.0, 24.0), 0.0, True), ((25.0, 27.0), 0.0, False), ((25.0, 12.0, 24.0), 0.0, False),
        ((5.0, 6.0, 5.0), 0.0, False), ((25.0, 27.0, 24.0), 0.6, False),
    ],
)
def test_among_other_sound_bouts_that_stand_out_alike_count_at_their_third_hearing_whatever_they_are_taken_for(
    levels_db: tuple[float, ...], outside: float, counts: bool
) -> None:
    doubts, kinds = Doubts(over_room=False), ("slurp", "flush", "gurgle")
    doubtful = not doubts.is_doubtful(named(None, {}, 0.6), SILENCE)  # other sound is about
    for kind, level_db in zip(kinds, levels_db, strict=False):
        for _ in range(int(AGAIN_WITHIN_S / WINDOW_S) + 1):
            doubts.is_doubtful(named(None, {}, 0.0), SILENCE)
        r = replace(reading({}, outside), heard=(Heard(kind, 0.1, 0.1, level_db, None, 1),))  # type: ignore[arg-type]
        told = Diagnosis(False, (), (Cause("unknown", 0.5, ()), Cause("siphon over-open", 0.3, ())), r)
        doubtful = doubts.is_doubtful(told, SILENCE)
        passing = doubts.is_passing(told, 0.9, {})
    assert doubtful != counts
    assert passing != counts


def test_something_faint_that_came_with_a_move_is_told_from_what_was_there_before() -> None:
    faint = named("weir drop", {"splash": 0.1}, 0.0, sure=0.1)
    for before, came in ((0, True), (4, False)):
        doubts = Doubts(over_room=False)
        for i in range(8):
            doubts.is_doubtful(faint if 0 < i <= before else named(None, {}, 0.0), SILENCE)
        doubts.moved()
        doubts.is_doubtful(named(None, {}, 0.0), SILENCE)
        assert not doubts.came_faintly
        for _ in range(5):
            assert doubts.is_doubtful(faint, SILENCE)
        assert doubts.came_faintly == came


def test_doubt_remains_after_many_hearings_and_twice_as_many_where_a_bout_stood_out() -> None:
    for stood_out, most in ((False, MOST_DOUBTS), (True, 2 * MOST_DOUBTS)):
        doubts = Doubts(over_room=False)
        told = named("siphon over-open", {"slurp": 0.1}, 0.0)
        quieter = replace(told, reading=replace(told.reading, heard=(Heard("slurp", 0.1, 0.1, 5.0, None, 1),)))
        doubts.is_doubtful(told if stood_out else quieter, SILENCE)
        doubts.count = most
        assert not doubts.remains
        doubts.count += 1
        assert doubts.remains
