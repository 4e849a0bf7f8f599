"""Fitting the rules: a weight moves towards what the cases say, keeps its sign and stays near what was set by hand."""

from __future__ import annotations

import numpy as np
import pytest

from tuner.causes.facts import Facts
from tuner.causes.rules import load_causes
from tuner.terms import CauseName
from tuner.training.causes import MOST_FACTOR, fit_weights

Weights = dict[tuple[CauseName, int], tuple[float, float]]


def cases(seed: int, count: int = 60) -> list[tuple[CauseName, Facts]]:
    """Gulps mean the siphon is too open and hisses a closed vent, always."""
    rng = np.random.default_rng(seed)
    made: list[tuple[CauseName, Facts]] = []
    for i in range(count):
        gulps = float(rng.uniform(0.2, 0.6)) if i % 2 else 0.0
        hiss = 0.0 if i % 2 else float(rng.uniform(0.3, 0.9))
        facts = {"slurp.presence": gulps, "slurp.lead": float(gulps > 0), "hiss.presence": hiss, "flush.presence": 0.0}
        made.append(("siphon over-open" if i % 2 else "vent too closed", facts))
    return made


@pytest.fixture(scope="module")
def fitted() -> Weights:
    return fit_weights(load_causes(), cases(1))


def test_weights_keep_their_sign_and_stay_within_a_factor(fitted: Weights) -> None:
    for rule in load_causes().rules:
        for i, entry in enumerate(rule.evidence):
            for was, now in zip((entry.weight, entry.against), fitted[(rule.name, i)], strict=True):
                low, high = sorted((was / MOST_FACTOR, was * MOST_FACTOR))
                assert low - 0.01 <= now <= high + 0.01  # rounded to two digits


def test_what_no_case_shows_stays_as_it_was(fitted: Weights) -> None:
    unknown = next(rule for rule in load_causes().rules if rule.name == "unknown")
    for i, entry in enumerate(unknown.evidence):
        assert fitted[("unknown", i)] == pytest.approx((entry.weight, entry.against), abs=0.01)


def test_what_every_case_shows_counts_more(fitted: Weights) -> None:
    siphon = next(rule for rule in load_causes().rules if rule.name == "siphon over-open")
    gulps = next(i for i, entry in enumerate(siphon.evidence) if entry.conditions[0].looks_at == "slurp.presence")
    assert fitted[("siphon over-open", gulps)][0] > siphon.evidence[gulps].weight


def test_a_fit_repeats_itself(fitted: Weights) -> None:
    assert fit_weights(load_causes(), cases(1)) == fitted
