"""Templates: what was taught moves the ears where it fits, says nothing elsewhere, and is found by name."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tuner.errors import ConfigError
from tuner.signatures.ears import FEATURE_NAMES
from tuner.signatures.listener import Listener, read_window
from tuner.signatures.model import load_model
from tuner.signatures.taught import WEIGHTS, Part, Templates, marks, moved, recall, suited, summed_up

RATE = 16_000
MODEL = load_model()
MOST = max(abs(w) for row in WEIGHTS.values() for w in row.values())


def cloud(shift: float, seed: int, n: int = 60, names: int = len(FEATURE_NAMES)) -> np.ndarray:
    """Looks around the knots' middle, moved by so many of the knots' inner widths."""
    rng = np.random.default_rng(seed)
    middle, width = np.zeros(len(FEATURE_NAMES)), np.ones(len(FEATURE_NAMES))
    for name, row in zip(MODEL.features, MODEL.knots, strict=True):
        at = FEATURE_NAMES.index(name)
        middle[at], width[at] = np.median(row), max(row[-2] - row[1], 1e-3)
    return (middle + shift * width + 0.1 * width * rng.normal(size=(n, len(FEATURE_NAMES))))[:, :names]


def templates(slurp: float = -1.0, gurgle: float = 1.0) -> Templates:
    parts = {"quiet": cloud(0.0, 1), "slurp": cloud(slurp, 2), "gurgle": cloud(gurgle, 3)}
    return Templates(FEATURE_NAMES, {n: summed_up(f) for n, f in parts.items()}, "mic", RATE)  # type: ignore[misc]


def test_a_look_is_like_the_part_that_it_comes_from() -> None:
    ready = recall(templates(), MODEL)
    assert ready.trust == pytest.approx([1.0, 1.0, 1.0])
    for i, shift in enumerate((0.0, -1.0, 1.0)):
        assert ready.likeness(cloud(shift, 9))[:, i].min() > 0.9


def test_what_is_like_nothing_taught_changes_nothing() -> None:
    ready = recall(templates(0.5, 0.7), MODEL)
    likeness = ready.likeness(cloud(-4.0, 9))
    assert likeness[:, -1].min() > 0.99
    assert np.abs(ready.shift(likeness)).max() < 0.05


@settings(max_examples=30, deadline=None)
@given(shift=st.floats(-50.0, 50.0), seed=st.integers(0, 99))
def test_the_shift_is_bounded_and_finite_for_any_sound(shift: float, seed: int) -> None:
    ready = recall(templates(), MODEL)
    likeness = ready.likeness(cloud(shift, seed, n=3))
    assert likeness.sum(axis=1) == pytest.approx(np.ones(3))
    assert np.abs(ready.shift(likeness)).max() <= MOST + 1e-9


def test_parts_that_cannot_be_told_apart_are_not_trusted() -> None:
    rng = np.random.default_rng(4)
    alike = {n: summed_up(cloud(0.0, int(rng.integers(99)))) for n in ("quiet", "slurp", "gurgle")}
    ready = recall(Templates(FEATURE_NAMES, alike, "", RATE), MODEL)  # type: ignore[arg-type]
    assert ready.trust.max() < 0.7
    assert recall(templates(), MODEL).trust.min() == 1.0


def test_a_part_of_one_stretch_proves_nothing() -> None:
    t = templates()
    short = replace(t, parts={**t.parts, "slurp": summed_up(cloud(-1.0, 5, n=10))})
    ready = recall(short, MODEL)
    assert ready.trust[ready.parts.index("slurp")] == 0.0


def test_weight_scales_everything() -> None:
    t = templates()
    likeness = recall(t, MODEL).likeness(cloud(1.0, 7))
    half = recall(replace(t, weight=0.5), MODEL)
    assert half.shift(likeness) == pytest.approx(0.5 * recall(t, MODEL).shift(likeness))


def test_features_are_found_by_name_and_unknown_ones_passed_over() -> None:
    t = templates()
    turned = Templates(
        (*reversed(FEATURE_NAMES), "a new one"),
        {n: Part(np.pad(p.middle[:, ::-1], ((0, 0), (0, 1))), np.pad(p.spread[:, ::-1], ((0, 0), (0, 1))), p.looks)
         for n, p in t.parts.items()},
        "mic", RATE,
    )
    looks = cloud(0.4, 8)
    assert recall(turned, MODEL).likeness(looks) == pytest.approx(recall(t, MODEL).likeness(looks), abs=1e-9)


def test_too_few_known_names_ask_to_teach_again() -> None:
    t = templates()
    strange = replace(t, features=tuple(f"old {i}" if i % 3 else n for i, n in enumerate(FEATURE_NAMES)))
    with pytest.raises(ConfigError, match="at least half known to this version: teach again"):
        recall(strange, MODEL)


def test_without_quiet_or_sound_they_are_no_use() -> None:
    t = templates()
    for left in ({"quiet": t.parts["quiet"]}, {"slurp": t.parts["slurp"], "gurgle": t.parts["gurgle"]}):
        part = replace(t, parts=left)
        assert not part.usable
        with pytest.raises(ConfigError, match="must hold quiet and slurp or gurgle"):
            recall(part, MODEL)
    assert replace(t, parts={"quiet": t.parts["quiet"]}).missing == ("slurp", "gurgle")


def test_another_microphone_or_band_does_not_suit() -> None:
    t = replace(templates(), sample_rate=48_000)
    assert suited(t, "mic", 48_000) == suited(t, "mic", 44_100) == suited(t, None, 48_000) == ""
    assert "taught with the microphone 'mic', this is 'other'" in suited(t, "other", 48_000)
    assert "whose bands differ" in suited(t, "mic", 16_000)


def test_marks_name_what_sets_a_sound_off() -> None:
    t = templates()
    middle = t.parts["quiet"].middle.copy()
    at = FEATURE_NAMES.index("range 5")
    middle[:, at] += 100.0
    odd = replace(t, parts={**t.parts, "slurp": replace(t.parts["quiet"], middle=middle)})
    assert marks(odd, "slurp")[0][0] == "range 5"
    assert marks(odd, "slurp")[0][1] > 10.0


def test_moving_by_nothing_changes_nothing() -> None:
    p = np.array([0.0, 1e-9, 0.3, 1.0])
    assert moved(p, np.zeros(4)) == pytest.approx(p, abs=1e-11)
    assert moved(np.array([0.3]), np.array([-1.0]))[0] < 0.3 < moved(np.array([0.3]), np.array([1.0]))[0]


def test_a_listener_hears_by_its_templates() -> None:
    rng = np.random.default_rng(1)
    samples = (0.02 * rng.normal(size=4 * RATE)).astype(np.float32)
    plain = Listener(RATE)
    plain.feed(samples)
    looks = np.stack([look.features for look in plain._looks])
    own = Templates(FEATURE_NAMES, {
        "quiet": summed_up(looks + 3.0 * np.abs(looks)), "gurgle": summed_up(np.tile(looks, (5, 1))),
    }, "", RATE)  # fmt: skip
    listener = Listener(RATE, templates=own)
    assert listener.taught_share is None
    listener.feed(samples)
    assert listener.taught_share is not None
    assert listener.taught_share > 0.5
    before, after = plain.moments()[-1].probability, listener.moments()[-1].probability
    assert after["gurgle"] > before["gurgle"]
    assert after["trickle"] == pytest.approx(before["trickle"])
    plain_reading, reading = read_window(samples, RATE), read_window(samples, RATE, templates=own)
    heard = [r.of("gurgle").probability if r.of("gurgle") else 0.0 for r in (plain_reading, reading)]  # type: ignore[union-attr]
    assert heard[1] >= heard[0]


def test_a_listener_refuses_templates_of_other_bands() -> None:
    with pytest.raises(ConfigError, match="templates must suit the sound: taught at 16000 Hz"):
        Listener(48_000, templates=templates())
