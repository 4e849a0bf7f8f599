"""Fit the weights of the cause rules on drawn cases, close to the weights that were set by hand.

``python -m tuner.training.causes --draws 30`` hears 20 s of that many drawn cases of each cause and of household noise
over a quiet system; with ``--otherwise`` also as many whose sounds are made otherwise than by the rehearsal rig's
voices, and of each kind of sound alone, with ``--recordings FOLDER`` also each case under household sound of the
fitting half of a folder, listening on for up to a minute where that covers it. It moves the weights in
``models/causes.toml`` so that the cause is right more often and its probability means what it says. A weight keeps its
sign and stays within a factor of three of what it was: the rules say what speaks for what, the draws say how much.
Words, ramps and order are not touched.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tuner.causes.diagnosis import diagnose_reading
from tuner.causes.facts import Facts, facts_of
from tuner.causes.rules import CauseRules, load_causes
from tuner.causes.weighing import degree_of
from tuner.places import shared_dir
from tuner.rehearsal.cases import draw_case
from tuner.rehearsal.rehearsal import Rehearsal
from tuner.rig import Rig
from tuner.signatures.listener import read_window
from tuner.terms import CAUSE_NAMES, SOUND_KINDS, CauseName, Diagnosis, Reading, Samples, SoundKind
from tuner.training.elsewhere import MEANS, case_elsewhere, sound_alone
from tuner.training.evening import LEVELS_DB, evening
from tuner.training.household import made_up
from tuner.training.recordings import Clip, load_clips

HEARD_S, LONGEST_S = 20.0, 60.0
SAMPLE_RATE = 48_000
FIRST_SEED = 20_000
RIDGE = 1.5  # weighed on cases left out: less gains nothing there and forgets what was set by hand
MOST_FACTOR = 3.0
WITHOUT_RIG_EVERY = 4  # every so many draws are weighed without the installation, as by a first-time user

Floats = NDArray[np.float64]
Job = tuple[CauseName, int, Path | None, bool]
"""The cause, the seed, the folder of the household sound, if any, and whether the sounds are made otherwise."""


def household_noise(seed: int) -> Samples:
    """Return made-up household sound at a common level, to be mixed over a quiet system."""
    rng = np.random.default_rng([seed, 77])
    sound = made_up(rng, SAMPLE_RATE, int(12.0 * SAMPLE_RATE))
    return np.asarray(sound / (np.abs(sound).max() + 1e-9), dtype=np.float32)


@cache
def _clips(folder: Path) -> tuple[Clip, ...]:
    """Return the household clips of the fitting half; each process reads a folder once."""
    return load_clips(folder, half=True, sample_rate=SAMPLE_RATE)[0]


def hear_case(job: Job) -> tuple[CauseName, Reading, Facts]:
    """Return cause, reading and facts of one drawn case."""
    cause, seed, folder, elsewhere = job
    if elsewhere:
        samples, rig = case_elsewhere(cause, seed, sample_rate=SAMPLE_RATE, seconds=HEARD_S)
        return cause, *_weighed(read_window(samples, SAMPLE_RATE), seed, rig)
    if folder is not None:
        rehearsal = case_in_evening(cause, seed, _clips(folder), np.random.default_rng([seed, 79]))
    elif cause == "outside noise":
        level_db = float(np.random.default_rng([seed, 78]).uniform(38.0, 55.0))
        rehearsal = draw_case(
            None, seed, sample_rate=SAMPLE_RATE, household=household_noise(seed), household_db=level_db
        )
    else:
        rehearsal = draw_case(cause, seed, sample_rate=SAMPLE_RATE)
    reading = heard_out(rehearsal, None, HEARD_S if folder is None else LONGEST_S).reading
    return cause, *_weighed(reading, seed, rehearsal.rig)


def hear_alone(job: tuple[SoundKind, int]) -> tuple[CauseName, Reading, Facts]:
    """Return what a kind of sound means alone, in turn where that is more than one cause, its reading and facts."""
    kind, seed = job
    meant = MEANS[kind]
    samples = sound_alone(kind, seed, sample_rate=SAMPLE_RATE, seconds=HEARD_S)
    reading = read_window(samples, SAMPLE_RATE)
    return meant[seed % len(meant)], reading, _facts(reading, None)


def _weighed(reading: Reading, seed: int, rig: Rig) -> tuple[Reading, Facts]:
    return reading, _facts(reading, None if seed % WITHOUT_RIG_EVERY == 0 else rig)


def _facts(reading: Reading, rig: Rig | None) -> Facts:
    facts = facts_of(reading, rig=rig, last_move=None)
    facts.pop("excess_db", None)
    return facts


def case_in_evening(
    cause: CauseName | None, seed: int, clips: Sequence[Clip], rng: np.random.Generator
) -> Rehearsal:
    """Draw a case under household sound of ``clips``, at a level that ``rng`` draws after the sound itself."""
    sound = evening(rng, clips, SAMPLE_RATE, LONGEST_S)
    return draw_case(cause, seed, sample_rate=SAMPLE_RATE, household=sound, household_db=float(rng.uniform(*LEVELS_DB)))


def heard_out(rehearsal: Rehearsal, rig: Rig | None, longest_s: float) -> Diagnosis:
    """Listen for 20 s, and on while other sound covers the drains, as a keeper would; return the last diagnosis."""
    samples = rehearsal.listen(HEARD_S)
    while True:
        diagnosis = diagnose_reading(read_window(samples, SAMPLE_RATE), rig=rig)
        covered = not diagnosis.silent and diagnosis.causes[0].name == "outside noise"
        if not covered or len(samples) >= longest_s * SAMPLE_RATE:
            return diagnosis
        samples = np.concatenate([samples, rehearsal.listen(HEARD_S)])


def fit_weights(
    rules: CauseRules, cases: Sequence[tuple[CauseName, Facts]]
) -> dict[tuple[CauseName, int], tuple[float, float]]:
    """Return (weight, against) for each (cause, entry number), by penalised multinomial logistic regression."""
    from scipy.optimize import minimize

    where = [(r, i) for r, rule in enumerate(rules.rules) for i in range(len(rule.evidence))]
    n_entries = len(where)
    design = np.zeros((len(cases), 2 * n_entries))
    for row, (_, facts) in enumerate(cases):
        for column, (r, i) in enumerate(where):
            degree = degree_of(rules.rules[r].evidence[i], facts)
            if degree is not None:
                design[row, column], design[row, n_entries + column] = degree, 1.0 - degree
    cause_of = np.array([r for r, _ in where] * 2)
    member = np.zeros((2 * n_entries, len(rules.rules)))
    member[np.arange(2 * n_entries), cause_of] = 1.0
    prior = np.log([rule.prior for rule in rules.rules])
    names = [rule.name for rule in rules.rules]
    truth = np.array([names.index(cause) for cause, _ in cases])
    entries = [rules.rules[r].evidence[i] for r, i in where]
    by_hand = np.array([e.weight for e in entries] + [e.against for e in entries])

    def loss(weights: Floats) -> tuple[float, Floats]:
        scores = prior + (design * weights) @ member
        scores -= scores.max(axis=1, keepdims=True)
        log_sum = np.log(np.exp(scores).sum(axis=1))
        off = weights - by_hand
        value = float(np.mean(log_sum - scores[np.arange(len(truth)), truth]) + RIDGE * np.mean(off**2))
        share = np.exp(scores - log_sum[:, None])
        share[np.arange(len(truth)), truth] -= 1.0
        gradient = np.einsum("nk,nk->k", design, share @ member.T) / len(truth) + 2 * RIDGE * off / off.size
        return value, gradient

    # no case is drawn of what is unknown, and few kinds of household sound that covers everything: their weights stay,
    # or the fit would forget that it does not know
    held = {k for k, (r, _) in enumerate(where * 2) if rules.rules[r].name in ("unknown", "outside noise")}
    bounds = [
        (w, w) if w == 0 or k in held else tuple(sorted((w / MOST_FACTOR, w * MOST_FACTOR)))
        for k, w in enumerate(by_hand)
    ]
    found = minimize(loss, by_hand, jac=True, method="L-BFGS-B", bounds=bounds, options={"maxiter": 500}).x
    return {
        (rules.rules[r].name, i): (round(float(found[k]), 2), round(float(found[n_entries + k]), 2))
        for k, (r, i) in enumerate(where)
    }


def write_weights(path: Path, weights: dict[tuple[CauseName, int], tuple[float, float]], date: str, note: str) -> None:
    """Write weights into the rule file; everything else in it stays as it is."""
    import tomlkit

    document: Any = tomlkit.parse(path.read_text(encoding="utf-8"))
    document["date"], document["weights_from"] = date, note
    for table in document["cause"]:
        for i, entry in enumerate(table.get("evidence", ())):
            weight, against = weights[(table["name"], i)]
            if "weight" in entry:
                entry["weight"] = weight
            if "against" in entry:
                entry["against"] = against
    path.write_text(tomlkit.dumps(document), encoding="utf-8")


def main(argv: list[str] | None = None) -> int:
    """Hear, fit, write."""
    parser = argparse.ArgumentParser(prog="python -m tuner.training.causes", description=__doc__)
    parser.add_argument("--draws", type=int, default=30, help="draws of each cause")
    parser.add_argument("--recordings", type=Path, help="folder of labelled recordings, for household sound")
    parser.add_argument("--otherwise", action="store_true", help="also cases made otherwise than by the rig's voices")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--date", default="2026-12-01", help="date for the rule file")
    args = parser.parse_args(argv)
    causes: tuple[CauseName, ...] = CAUSE_NAMES[:12]
    folders = (None, args.recordings) if args.recordings else (None,)
    jobs = [
        (cause, FIRST_SEED + i, folder, False) for folder in folders for i in range(args.draws) for cause in causes
        if folder is None or cause != "outside noise"
    ]
    alone: list[tuple[SoundKind, int]] = []
    if args.otherwise:
        jobs += [(cause, FIRST_SEED + i, None, True) for i in range(args.draws) for cause in causes[:-1]]
        alone = [(kind, FIRST_SEED + i) for i in range(args.draws) for kind in SOUND_KINDS]
    with ProcessPoolExecutor(args.workers) as pool:
        heard = [*pool.map(hear_case, jobs), *pool.map(hear_alone, alone)]
    rules = load_causes()
    weights = fit_weights(rules, [(cause, facts) for cause, _, facts in heard])
    note = (
        f"set by hand from common practice, then fitted within a factor of {MOST_FACTOR:g} on {len(heard)} rehearsal"
        f" cases (seeds {FIRST_SEED} to {FIRST_SEED + args.draws - 1})"
        + (", part of them with sounds made otherwise than by the rig's voices" if args.otherwise else "")
        + (", part of them under household sound of recordings" if args.recordings else "")
    )
    write_weights(shared_dir("models") / "causes.toml", weights, args.date, note)
    sys.stdout.write(f"fitted {len(weights)} entries on {len(heard)} cases\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
