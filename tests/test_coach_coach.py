from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tuner.coach import Coach
from tuner.coach.course import Course, is_worse
from tuner.coach.handwork import hands_of
from tuner.coach.shares import Word, believed
from tuner.coach.signs import gulps_dry
from tuner.coach.wording import comparison
from tuner.errors import ConfigError
from tuner.rig import Channel, Pump, Rig
from tuner.terms import SOUND_KINDS, Cause, CauseName, Heard, Levels, Question, Reading, SoundKind, Step

RIG = Rig(channel=Channel(vent_hole_m=0.012), pumps=(Pump(speed=0.8, speed_step=0.05),))


def heard_as(shares: dict[SoundKind, float], *, level_db: float = -40.0, outside: float = 0.0) -> Reading:
    levels = Levels(level_db, level_db + 2, level_db - 1, level_db - 3, level_db + 5, (1000.0,), (level_db - 5,))
    heard = tuple(Heard(k, s, s, 20.0, None, 2) for k, s in shares.items())
    return Reading(25.0, 25.0 * (1 - outside), levels, (), heard, 20.0 if heard else 0.0, outside)


def next_step(coach: Coach, reading: Reading) -> Step | None:
    coach.hear_reading(reading)
    step = coach.advise()
    if isinstance(step, Question):
        coach.look(step.id, None)
        step = coach.advise()
    assert not isinstance(step, Question)
    return step


@pytest.mark.parametrize(
    ("kind", "ways"),
    [
        ("slurp", {("siphon valve", False), ("return pump", True)}),
        ("gurgle", {("siphon valve", True), ("return pump", False)}),
        ("flush", {("vent tap", True), ("siphon valve", True), ("return pump", False)}),
        ("trickle", {("vent tap", False), ("siphon valve", False), ("return pump", True)}),
        ("roar", {("return pump", False)}),
    ],
)
def test_a_sound_leads_to_a_move_that_mends_it(kind: SoundKind, ways: set[tuple[str, bool]]) -> None:
    step = next_step(Coach(RIG), heard_as({kind: 0.9}))
    assert step is not None
    assert (step.control, step.amount > 0) in ways
    assert step.amount != 0
    assert step.why
    assert step.expect
    assert 30 <= step.wait_s <= 180


def test_without_a_description_it_advises_as_well() -> None:
    step = next_step(Coach(), heard_as({"gurgle": 0.9}))
    assert step is not None
    assert step.amount > 0


def test_nothing_is_turned_on_a_masked_window_nor_before_listening() -> None:
    coach = Coach(RIG)
    first = coach.advise()
    assert isinstance(first, Step)
    assert first.amount == 0
    masked = next_step(coach, heard_as({"gurgle": 0.5}, outside=0.9))
    assert masked is not None
    assert masked.amount == 0
    assert "quieter" in masked.why


@pytest.mark.parametrize(("kind", "word"), [("hum", "feet"), ("splash", "falls")])
def test_what_no_valve_mends_ends_in_one_instruction(kind: SoundKind, word: str) -> None:
    coach = Coach(RIG)
    said = []
    for _ in range(25):
        step = next_step(coach, heard_as({kind: 0.9}))
        if step is None:
            break
        assert step.amount == 0
        if "listen on" not in step.why:  # the drains are listened to all the same
            said.append(step.why)
        coach.did(step)
    else:
        pytest.fail("it never ended")
    assert len(said) == len(set(said))
    assert any(word in text for text in said)
    assert not coach.summary().tuned


def test_a_hum_that_stays_does_not_end_the_listening_for_a_slow_slurp() -> None:
    coach = Coach(RIG)
    coach.did(next_step(coach, heard_as({"slurp": 0.4})) or pytest.fail("no move"))
    asked = []
    for _ in range(20):
        step = next_step(coach, heard_as({"hum": 0.9}))
        if step is None:
            break
        asked.append(step)
        coach.did(step, 0.0 if step.amount else None)
    else:
        pytest.fail("it never ended")
    assert sum("soft feet" in step.why for step in asked) == 1
    assert any("listen on" in step.why for step in asked)
    step = next_step(coach, heard_as({"hum": 0.9, "slurp": 0.4}))
    assert step is not None
    assert (step.control, step.amount < 0) in {("siphon valve", True), ("return pump", False)}


def test_silence_ends_with_the_margins() -> None:
    coach = Coach(RIG)
    for _ in range(20):
        step = next_step(coach, heard_as({}))
        if step is None:
            break
        coach.did(step, 0.0 if step.amount else None)
    summary = coach.summary()
    assert summary.tuned
    assert "quiet from" in summary.text
    assert summary.less_flow is not None


def test_the_way_back_leads_to_the_last_silent_setting() -> None:
    coach = Coach(RIG)
    assert coach.way_back() == ()
    first = next_step(coach, heard_as({"gurgle": 0.9}))
    assert first is not None
    coach.did(first)
    coach.hear_reading(heard_as({}))
    assert coach.way_back() == ()
    # by hand: a quarter on, an eighth back, the tap by half a turn: together an eighth and a half
    for control, amount in (("siphon valve", 0.25), ("siphon valve", -0.125), ("vent tap", 0.5)):
        coach.did(Step(control, amount, "turn", 60.0, "by the keeper"))  # type: ignore[arg-type]
    coach.hear_reading(heard_as({"slurp": 0.4}))
    back = coach.way_back()
    assert [(s.control, s.amount) for s in back] == [("vent tap", -0.5), ("siphon valve", -0.125)]
    for step in back:
        coach.did(step)
    assert coach.way_back() == ()


def test_without_silence_the_way_back_leads_to_the_quietest_and_stays_safe() -> None:
    coach = Coach(RIG)
    for level, amount in ((-40.0, 0.25), (-50.0, 0.125), (-45.0, 0.0)):
        coach.hear_reading(heard_as({"gurgle": 0.9}, level_db=level))
        if amount:
            coach.did(Step("siphon valve", amount, "turn", 60.0, "by the keeper"))
    # the quietest was before the last eighth, but a gurgling channel is not sent more water
    assert coach.way_back() == ()
    coach.hear_reading(heard_as({"slurp": 0.4}, level_db=-45.0))
    assert [(s.control, s.amount) for s in coach.way_back()] == [("siphon valve", -0.125)]


@pytest.mark.parametrize(
    ("before", "after", "aimed", "said"),
    [
        # by hand: the mismatch goes as one over the period, so from 4 s to 8 s half of it is gone
        (("slurp", 4.0), ("slurp", 8.0), "siphon over-open",
         "The slurp slowed from every 4 s to every 8 s, as expected: about half way."),
        (("slurp", 4.0), ("slurp", 19.0), "siphon over-open",
         "The slurp slowed from every 4 s to every 19 s, as expected: most of the way."),
        (("slurp", 8.0), ("slurp", 5.0), "siphon over-open",
         "The slurp quickened from every 8 s to every 5 s, not as expected."),
        (("gurgle", None), ("trickle", None), "siphon over-closed",
         "The gurgle is gone, now there is trickle, as expected."),
        (("gurgle", None), ("gurgle", None), "siphon over-closed", "No clear change, not as expected."),
        (("gurgle", None), None, "siphon over-closed", "The noise is gone, as expected."),
        (None, None, None, "Still silent, as expected."),
        (None, ("trickle", None), None, "Now there is trickle."),
    ],
)
def test_what_a_move_did_is_held_against_what_it_should_do(
    before: tuple[SoundKind, float | None] | None, after: tuple[SoundKind, float | None] | None,
    aimed: CauseName | None, said: str,
) -> None:
    def reading(sound: tuple[SoundKind, float | None] | None) -> Reading:
        silence = heard_as({})
        return silence if sound is None else replace(
            silence, heard=(Heard(sound[0], 0.5, 0.5, 20.0, sound[1], 3),)
        )

    assert comparison(reading(before), reading(after), after is None, aimed) == said


def test_advice_does_not_change_until_something_happens() -> None:
    coach = Coach(RIG)
    coach.hear_reading(heard_as({"slurp": 0.4}))
    assert coach.advise() is coach.advise()


def test_declining_turns_nothing_in_the_belief() -> None:
    coach = Coach(RIG)
    step = next_step(coach, heard_as({"slurp": 0.4}))
    assert step is not None
    coach.did(step, 0.0)
    assert coach.summary().moves == 0


def test_it_stops_and_says_so_when_moves_made_it_worse_twice() -> None:
    coach = Coach(RIG)
    said = ""
    for level in (-40.0, -35.0, -30.0):
        step = next_step(coach, heard_as({"gurgle": 0.9}, level_db=level))
        assert step is not None
        said = step.why
        coach.did(step)
    assert said.startswith("Stop")


def test_turning_back_never_takes_a_full_step_back() -> None:
    coach = Coach(RIG)
    last: Step | None = None
    for kind in ("slurp", "trickle", "slurp", "trickle", "slurp"):
        step = next_step(coach, heard_as({kind: 0.45}))  # type: ignore[dict-item]
        assert step is not None
        if last is not None and last.control == step.control and last.amount * step.amount < 0:
            finest = {h.control: h.finest for h in hands_of(RIG)}[step.control]
            assert abs(step.amount) <= max(finest, abs(last.amount) / 2) + 1e-9
        coach.did(step)
        last = step


def test_gulps_with_a_steady_gurgle_close_nothing() -> None:
    step = next_step(Coach(RIG), heard_as({"slurp": 0.9, "gurgle": 0.8}))
    assert step is not None
    assert not (step.control == "siphon valve" and step.amount < 0)
    assert not (step.control == "return pump" and step.amount > 0)


def test_a_saved_session_goes_on_as_if_it_had_not_stopped() -> None:
    readings = [heard_as({"slurp": 0.4}), heard_as({"gurgle": 0.6}), heard_as({})]
    whole, parted = Coach(RIG), Coach(RIG)
    for i, reading in enumerate(readings):
        steps = []
        for coach in (whole, parted):
            step = next_step(coach, reading)
            steps.append(step)
            if step is not None:
                coach.did(step)
        assert steps[0] == steps[1]
        if i == 1:
            parted = Coach.restore(json.loads(json.dumps(parted.state)), RIG)
    assert whole.state == parted.state


def test_a_session_of_another_installation_is_refused() -> None:
    state: dict[str, Any] = Coach(RIG).state
    with pytest.raises(ConfigError, match="must be the rig at hand"):
        Coach.restore(state, Rig(name="another"))
    with pytest.raises(ConfigError, match="schema=7 must be 1"):
        Coach.restore({**state, "schema": 7}, RIG)


def test_an_unknown_answer_is_refused() -> None:
    with pytest.raises(ConfigError, match="must be a question of the coach"):
        Coach(RIG).look("colour of the fish", "blue")


def test_ears_may_be_brought_along() -> None:
    coach = Coach(RIG, reader=lambda samples, rate: heard_as({"slurp": 0.4}))  # noqa: ARG005
    assert coach.hear(np.zeros(8, dtype=np.float32), 48000).causes[0].name == "siphon over-open"


@settings(max_examples=12, deadline=None)
@given(st.lists(st.sampled_from((*SOUND_KINDS, None)), min_size=1, max_size=8))
def test_whatever_is_heard_no_move_closes_under_a_roar_nor_is_too_large(kinds: list[SoundKind | None]) -> None:
    coach = Coach(RIG)
    limits = {hand.control: hand for hand in hands_of(RIG)}
    for kind in kinds:
        step = next_step(coach, heard_as({kind: 0.9} if kind else {}))
        if step is None:
            continue
        hand = limits[step.control]
        assert abs(step.amount) <= hand.limit(step.amount) + 1e-9
        steps = step.amount / hand.finest
        assert steps == pytest.approx(round(steps), abs=1e-6)
        if kind == "roar":
            assert not (step.control == "siphon valve" and step.amount < 0)
            assert not (step.control == "return pump" and step.amount > 0)
        coach.did(step)


def test_the_belief_has_no_word_on_what_no_control_mends() -> None:
    causes = (Cause("return drawing air", 0.6, ("a",)), Cause("vent too wide", 0.3, ("b",)),
              Cause("siphon over-open", 0.1, ("c",)))
    after = {c.name: c.probability for c in believed(causes, Word({"vent too wide": 0.0, "siphon over-open": 0.9}))}
    assert after["return drawing air"] == pytest.approx(0.6)
    assert after["siphon over-open"] > after["vent too wide"]
    assert sum(after.values()) == pytest.approx(1.0)


def test_turning_far_without_effect_is_noticed() -> None:
    course, hand = Course(), hands_of(RIG)[0]
    for _ in range(5):
        course.heard(heard_as({"gurgle": 1.0}), "siphon over-closed")
        course.moved(hand, 0.5, "siphon over-closed", 60.0)
    assert course.without_effect() == "siphon valve"
    course.heard(heard_as({"gurgle": 1.0}, level_db=-50.0), "siphon over-closed")
    assert course.without_effect() is None


@pytest.mark.parametrize(
    ("shares", "dry"),
    [({"gurgle": 0.9}, False), ({"gurgle": 0.9, "slurp": 0.5}, True), ({"gurgle": 0.9, "slurp": 0.1}, False),
     ({"gurgle": 0.9, "slurp": 0.5, "flush": 0.2}, False), ({"gurgle": 0.9, "slurp": 0.5, "roar": 0.2}, False)],
)
def test_steady_gulps_tell_of_a_dry_channel_but_not_beside_a_flush_or_roar(
    shares: dict[SoundKind, float], dry: bool
) -> None:
    assert gulps_dry(heard_as(shares)) is dry


def test_a_siphon_that_gulps_and_gurgles_after_it_was_opened_is_not_opened_to_its_stop() -> None:
    coach = Coach(RIG)
    amounts = []
    for _ in range(8):
        step = next_step(coach, heard_as({"gurgle": 0.9, "slurp": 0.6}))
        if step is None:
            break
        amounts.append(step.amount if step.control == "siphon valve" else 0.0)
        coach.did(step)
    assert amounts[0] > 0
    assert max(amounts[1:]) <= amounts[0]
    assert min(amounts) < 0


def test_gulps_beside_a_steady_roar_close_nothing() -> None:
    coach = Coach(RIG)
    for _ in range(4):
        step = next_step(coach, heard_as({"slurp": 0.9, "roar": 0.4}))
        if step is None:
            break
        assert not (step.control == "siphon valve" and step.amount < 0)
        assert not (step.control == "return pump" and step.amount > 0)
        coach.did(step)


def test_what_is_taken_for_gulps_but_grows_with_every_closing_is_not_closed_on() -> None:
    coach = Coach(replace(RIG, pumps=(Pump(),)))
    closed = []
    for level_db in (-50.0, -47.5, -44.0):
        step = next_step(coach, heard_as({"slurp": 0.6}, level_db=level_db))
        assert step is not None
        closed.append(step.control == "siphon valve" and step.amount < 0)
        coach.did(step)
    assert closed == [True, True, False], "the third would be one too many: it is 6 dB louder by then"


def test_gulps_that_stay_over_three_closings_are_no_gulps() -> None:
    course, hand = Course(), hands_of(RIG)[0]
    for share in (0.6, 0.6, 0.5):
        course.heard(heard_as({"slurp": share}), "siphon over-open")
        assert not course.turns.closed_in_vain()
        course.moved(hand, -0.25, "siphon over-open", 60.0)
    course.heard(heard_as({"slurp": 0.3}), "siphon over-open")
    assert not course.turns.closed_in_vain(), "they became rarer"
    course.heard(heard_as({"slurp": 0.7}), "siphon over-open")
    assert course.turns.closed_in_vain(), "0.5 of both windows, as before"


def test_closed_in_vain_counts_only_closing_moves_in_a_row() -> None:
    course, hand = Course(), hands_of(RIG)[0]
    for amount, level_db in ((-0.25, -50.0), (-0.25, -46.0)):
        course.heard(heard_as({"slurp": 0.6}, level_db=level_db), "siphon over-open")
        course.moved(hand, amount, "siphon over-open", 60.0)
    course.heard(heard_as({"slurp": 0.6}, level_db=-45.5), "siphon over-open")
    assert not course.turns.closed_in_vain()
    course.heard(heard_as({"slurp": 0.6}, level_db=-44.5), "siphon over-open")
    assert course.turns.closed_in_vain()
    course.moved(hand, 0.125, "siphon over-open", 60.0)
    course.heard(heard_as({"slurp": 0.6}, level_db=-40.0), "siphon over-open")
    assert not course.turns.closed_in_vain()


def test_a_roar_that_begins_is_worse_and_another_noise_is_not() -> None:
    assert is_worse(heard_as({"gurgle": 0.9}), heard_as({"roar": 0.9}))
    assert not is_worse(heard_as({"gurgle": 0.9}), heard_as({"slurp": 0.3}, level_db=-30.0))
    assert is_worse(heard_as({"gurgle": 0.9}), heard_as({"gurgle": 0.9}, level_db=-30.0))
