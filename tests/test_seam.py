"""The public seam: every name is there, and the whole way from samples to a step runs through it."""

from __future__ import annotations

import numpy as np
import pytest

import tuner
from tuner.rehearsal.cases import draw_case, draw_noisy
from tuner.terms import CAUSE_NAMES, SOUND_KINDS

RATE = 16000


def test_every_public_name_exists() -> None:
    assert list(tuner.__all__) == sorted(tuner.__all__)
    for name in tuner.__all__:
        assert getattr(tuner, name) is not None


def test_an_unknown_name_is_refused() -> None:
    with pytest.raises(AttributeError, match="no attribute 'tune_all'"):
        _ = tuner.tune_all


def test_one_shot_diagnosis() -> None:
    rehearsal = draw_case("emergency carrying flow", 7, sample_rate=RATE)
    d = tuner.diagnose(rehearsal.listen(12.0), RATE, rig=rehearsal.rig)
    assert not d.silent
    assert {s.kind for s in d.sounds} <= set(SOUND_KINDS)
    assert {c.name for c in d.causes} <= set(CAUSE_NAMES)
    assert [c.probability for c in d.causes] == sorted((c.probability for c in d.causes), reverse=True)
    assert all(c.because for c in d.causes[:1])


def test_a_coach_hears_advises_and_learns_without_rig_or_floor() -> None:
    rehearsal = draw_noisy(11, sample_rate=RATE)
    coach = tuner.Coach(None)
    assert coach.hear(rehearsal.listen(12.0), RATE) is not None
    step = coach.advise()
    while isinstance(step, tuner.Question):
        coach.look(step.id, None)
        step = coach.advise()
    assert step is None or (step.control in ("siphon valve", "vent tap", "return pump") and step.why)
    if step is not None:
        coach.did(step, amount=0.0)
        assert coach.hear(rehearsal.listen(12.0), RATE) is not None


def test_a_coach_takes_a_floor() -> None:
    rehearsal = draw_noisy(12, sample_rate=RATE)
    floor = tuner.measure_floor(rehearsal.floor(10.0), RATE)
    coach = tuner.Coach(rehearsal.rig, floor=floor)
    d = coach.hear(rehearsal.listen(12.0), RATE)
    assert d.reading.excess_db is not None


def test_bad_input_names_the_field_and_the_fix(tmp_path: object) -> None:
    with pytest.raises(ValueError, match="hushweir rig new"):
        tuner.load_rig(f"{tmp_path}/none.toml")
    with pytest.raises(ValueError, match="sample_rate=4000 must be"):
        tuner.diagnose(np.ones(8000, dtype=np.float32), 4000)
