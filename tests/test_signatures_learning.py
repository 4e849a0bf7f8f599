"""Learning: good stretches make parts, and what would mislead the ears is refused with its reason."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from tests.test_signatures_listener import RATE, voice
from tuner.signatures.ears import Look, looks_of
from tuner.signatures.learning import learn, with_part
from tuner.signatures.model import load_model
from tuner.signatures.taught import Taught, Templates, recall
from tuner.terms import SoundKind
from tuner.training.household import voice as talking

MODEL = load_model()


@cache
def quiet_looks(seed: int = 1, seconds: float = 15.0) -> tuple[Look, ...]:
    rng = np.random.default_rng(seed)
    return looks_of((1e-3 * rng.normal(size=round(seconds * RATE))).astype(np.float32), RATE)


@cache
def looks(kind: SoundKind, seed: int = 3) -> tuple[Look, ...]:
    return looks_of(voice(kind, 15.0, seed), RATE)


def kept(*parts: tuple[Taught, tuple[Look, ...]], insist: bool = False) -> Templates:
    known: Templates | None = None
    for name, heard in parts:
        learnt = learn(name, heard, known, MODEL, insist=insist)
        assert learnt.part is not None, learnt.doubt
        known = with_part(known, name, learnt.part, device="", sample_rate=RATE, day="2026-01-01")
    assert known is not None
    return known


def test_quiet_and_gurgle_are_learnt_and_trusted() -> None:
    known = kept(("quiet", quiet_looks()), ("gurgle", looks("gurgle")))
    assert known.usable
    assert known.missing == ("slurp",)
    trust = dict(zip(recall(known, MODEL).parts, recall(known, MODEL).trust, strict=True))
    assert trust["gurgle"] > 0.5


def test_a_learnt_sound_is_known_no_worse_than_before() -> None:
    learnt = learn("gurgle", looks("gurgle"), kept(("quiet", quiet_looks())), MODEL)
    assert learnt.before is not None
    assert learnt.after is not None
    assert learnt.after >= learnt.before


def test_too_short_is_refused() -> None:
    learnt = learn("quiet", quiet_looks()[:10], None, MODEL)
    assert learnt.part is None
    assert "5 s are too short: 10 s are the least" in learnt.doubt


def test_a_slurp_that_is_only_quiet_is_refused_even_when_insisted() -> None:
    known = kept(("quiet", quiet_looks()))
    for insist in (False, True):
        learnt = learn("slurp", quiet_looks(seed=2), known, MODEL, insist=insist)
        assert learnt.part is None
        assert "unlike the quiet: no slurp was there" in learnt.doubt


def test_a_sound_needs_the_quiet_first() -> None:
    learnt = learn("gurgle", looks("gurgle"), None, MODEL)
    assert learnt.part is None
    assert "the quiet must be taught before the gurgle" in learnt.doubt


def test_a_quiet_that_gurgles_is_refused_unless_insisted() -> None:
    learnt = learn("quiet", looks("gurgle"), None, MODEL)
    assert learnt.part is None
    assert "sounds like gurgle, not like quiet: tune first" in learnt.doubt
    assert learn("quiet", looks("gurgle"), None, MODEL, insist=True).part is not None


def test_a_slurp_that_gurgles_is_refused_unless_insisted() -> None:
    known = kept(("quiet", quiet_looks()))
    learnt = learn("slurp", looks("gurgle"), known, MODEL)
    assert learnt.part is None
    assert "was the valve turned the other way" in learnt.doubt or "worse with it" in learnt.doubt


def test_outside_noise_is_refused_even_when_insisted() -> None:
    rng = np.random.default_rng(5)
    speech = talking(rng, RATE, 15 * RATE)
    heard = looks_of((0.1 * speech / np.abs(speech).max()).astype(np.float32), RATE)
    learnt = learn("quiet", heard, None, MODEL, insist=True)
    assert learnt.part is None
    assert "outside noise covered" in learnt.doubt


def test_parts_of_another_microphone_are_left_behind() -> None:
    known = kept(("quiet", quiet_looks()), ("gurgle", looks("gurgle")))
    moved = with_part(known, "quiet", known.parts["quiet"], device="mic", sample_rate=RATE, day="2026-01-02")
    assert tuple(moved.parts) == ("quiet",)
    again = with_part(known, "quiet", known.parts["quiet"], device="", sample_rate=RATE, day="2026-01-02")
    assert set(again.parts) == {"quiet", "gurgle"}
    assert again.made == {"quiet": "2026-01-02", "gurgle": "2026-01-01"}


@pytest.mark.parametrize("kind", ["gurgle", "slurp"])
def test_only_seconds_unlike_the_quiet_go_into_a_part(kind: Taught) -> None:
    known = kept(("quiet", quiet_looks()))
    half = (*quiet_looks(seed=8), *looks(kind))  # type: ignore[arg-type]
    learnt = learn(kind, half, known, MODEL, insist=True)
    assert learnt.part is not None, learnt.doubt
    assert learnt.used_s <= 17.0
    assert learnt.heard_s == pytest.approx(len(half) * 0.5)
