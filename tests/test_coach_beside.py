from __future__ import annotations

import numpy as np
import pytest

from tests.test_coach_belief import belief, heard, reading
from tuner.coach.beside import THINGS, drawn
from tuner.terms import SoundKind

PLACES = {thing.name: place for place, thing in enumerate(THINGS)}


def share_of(b, name: str) -> float:
    return float(b.weights @ (b.guesses.beside == PLACES[name]))


def test_draws_follow_the_shares_of_installations() -> None:
    shares = np.bincount(drawn(np.random.default_rng(3), 20_000), minlength=len(THINGS)) / 20_000
    # three standard deviations of a share of a half in 20000 draws are 0.011
    assert shares == pytest.approx([thing.share for thing in THINGS], abs=0.011)
    assert sum(thing.share for thing in THINGS) == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("kinds", "name"),
    [(("splash",), "falling water"), (("hiss", "trickle"), "drawn air"), (("hiss",), "steady hiss")],
)
def test_what_stays_through_moves_is_beside_the_drains(kinds: tuple[SoundKind, ...], name: str) -> None:
    b = belief()
    before, others = share_of(b, name), [thing.name for thing in THINGS[1:] if thing.name != name]
    for amount in (0.25, 0.25, -0.5, -0.25, 0.5, 0.25):
        heard(b, reading(dict.fromkeys(kinds, 0.6)))
        b.moved("siphon valve", amount)
    heard(b, reading(dict.fromkeys(kinds, 0.6)))
    assert share_of(b, name) > 5 * before
    assert share_of(b, name) > max(share_of(b, other) for other in others)


def test_what_went_with_a_move_was_the_drains() -> None:
    b = belief()
    heard(b, reading({"splash": 0.6}))
    suspected = b.makes_beside("splash")
    b.moved("siphon valve", 0.125)
    heard(b, reading({}))
    assert b.makes_beside("splash") < 0.5 * suspected


def test_a_splash_may_be_a_faint_gurgle() -> None:
    silent, splashing = belief(), belief()
    heard(silent, reading({}))
    heard(splashing, reading({"splash": 0.4}))
    assert splashing.causes()["siphon over-closed"] > 1.3 * silent.causes()["siphon over-closed"]


def test_a_belief_that_starts_afresh_keeps_what_it_knows_of_the_rest() -> None:
    b = belief()
    for amount in (0.25, -0.5, 0.5):
        heard(b, reading({"splash": 0.6}))
        b.moved("siphon valve", amount)
    known = b.makes_beside("splash")
    assert not heard(b, reading({"roar": 0.9, "slurp": 0.9, "trickle": 0.9, "flush": 0.9, "hiss": 0.9}))
    assert b.makes_beside("splash") > 0.5 * known
