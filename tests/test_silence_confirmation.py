from __future__ import annotations

import numpy as np

from tests.test_silence_verdict import HONEST
from tuner.rehearsal.cases import draw_case
from tuner.signatures.listener import measure_floor
from tuner.silence.confirmation import Confirmation

RATE = 16_000


def test_a_roaring_emergency_pipe_is_audible_and_the_cuts_do_not_matter() -> None:
    rehearsal = draw_case("emergency carrying flow", 5, sample_rate=RATE)
    floor = measure_floor(rehearsal.floor(20.0), RATE)
    samples = rehearsal.listen(20.0)
    whole, parts = (Confirmation(RATE, floor, HONEST, rig=rehearsal.rig) for _ in range(2))
    whole.feed(samples)
    for start in range(0, samples.size, 12_345):
        parts.feed(samples[start : start + 12_345])
    whole.end()
    parts.end()
    verdict = whole.verdict()
    assert verdict.outcome == "audible"
    assert verdict == parts.verdict()


def test_a_loss_is_said_and_nothing_is_glued() -> None:
    noise = (1e-3 * np.random.default_rng(3).standard_normal(8 * RATE)).astype(np.float32)
    confirmation = Confirmation(RATE, None, None)
    confirmation.feed(noise)
    confirmation.gap(RATE)
    confirmation.feed(noise)
    verdict = confirmation.verdict()
    assert verdict.outcome == "not shown"
    assert any("1.0 s that were lost" in words for words in verdict.cannot_show)
    assert any("pumps off is not known" in words for words in verdict.why)
