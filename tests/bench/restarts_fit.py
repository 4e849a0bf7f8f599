"""Fits what ``silence/phases.py`` and ``silence/restart.py`` know of a start: ``python -m tests.bench.restarts_fit``.

Training draws only (seeds from 50000): it prints the tables of log-odds and the powers of the purge's length, and how
each did on draws that were left out of a fit on the others.
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from tests.bench.restarts import STEPS_A_SECOND, WITHIN_S, Heard, hear
from tuner.silence.phases import catch_quantities, caught_from, end_quantities, log_odds, sounding_until
from tuner.silence.restart import purge_terms

Floats = NDArray[np.float64]
Part = tuple[Mapping[str, Floats], NDArray[np.bool_], Floats]  # quantities, labels, weights: each (n_moments,)

FIRST_SEED = 50_000
FOLDS = 6
RIDGE = 3.0
BEFORE_S, AFTER_S = 60.0, 25.0  # of the catch: what lies further off is easy, and is not fitted to
EDGE_S = 1.0  # around the catch either answer is right
MOMENTS = 20.0  # that each side of a draw counts for, whatever its length


def logistic(parts: Sequence[Part]) -> dict[str, float]:
    """Fit log-odds to the parts of some draws."""
    names = list(parts[0][0])
    values = np.concatenate([np.stack([q[name] for name in names], axis=1) for q, _, _ in parts])
    labels = np.concatenate([label for _, label, _ in parts]).astype(float)
    weights = np.concatenate([weight for _, _, weight in parts])
    middle, spread = values.mean(axis=0), values.std(axis=0) + 1e-6
    scaled = np.column_stack([(values - middle) / spread, np.ones(len(values))])

    def cost(at: Floats) -> tuple[float, Floats]:
        odds, bound = scaled @ at, np.append(at[:-1], 0.0)
        loss = weights @ np.logaddexp(0.0, np.where(labels > 0.0, -odds, odds)) + 0.5 * RIDGE * bound @ bound
        chance = 1.0 / (1.0 + np.exp(-np.clip(odds, -40.0, 40.0)))
        return float(loss), scaled.T @ (weights * (chance - labels)) + RIDGE * bound

    at = minimize(cost, np.zeros(scaled.shape[1]), jac=True, method="L-BFGS-B").x
    slopes = at[:-1] / spread
    fitted = {name: round(float(slope), 4) for name, slope in zip(names, slopes, strict=True)}
    return {"": round(float(at[-1] - slopes @ middle), 4), **fitted}


def ends_s(heard: Heard) -> Floats:
    return np.array([m.end_s for m in heard.moments])


def share(mask: NDArray[np.bool_], least: float = 1.0) -> float:
    return MOMENTS / max(float(mask.sum()), least)


def catch_parts(primed: Sequence[Heard], clogged: Sequence[Heard]) -> list[Part]:
    parts: list[Part] = []
    for heard in primed:
        caught_s, middle_s = heard.true_s["siphon catches"] or 0.0, ends_s(heard) - 0.25
        near = (middle_s > caught_s - BEFORE_S) & (middle_s < caught_s + AFTER_S)
        label = middle_s[near] >= caught_s
        at_edge = np.abs(middle_s[near] - caught_s) < EDGE_S
        weight = np.where(label, share(label), share(~label)) * np.where(at_edge, 0.2, 1.0)
        quantities = {k: v[near] for k, v in catch_quantities(heard.moments, heard.floor).items()}
        parts.append((quantities, label, weight))
    for heard in clogged:
        n = len(heard.moments)
        quantities = catch_quantities(heard.moments, heard.floor)
        parts.append((quantities, np.zeros(n, dtype=bool), np.full(n, MOMENTS / n)))
    return parts


def sounding_parts(primed: Sequence[Heard]) -> list[Part]:
    parts: list[Part] = []
    for heard in primed:
        end_s, caught_s = ends_s(heard), heard.true_s["siphon catches"] or 0.0
        caught = int(np.searchsorted(end_s - 0.25, caught_s))
        steps = np.minimum((end_s - 0.5) * STEPS_A_SECOND, len(heard.sounds) - 1).astype(int)
        sounds = np.array([np.mean(heard.sounds[at : at + STEPS_A_SECOND // 2 + 1]) > 0.5 for at in steps])
        after = end_s - 0.25 > caught_s + 0.5
        label = sounds[after]
        quantities = {k: v[after] for k, v in end_quantities(heard.moments, heard.floor, caught).items()}
        least = 0.5 * MOMENTS  # a draw that sounds for a moment only is no more than that moment
        parts.append((quantities, label, 1.5 * np.where(label, share(label, 1.5 * least), share(~label))))
    return parts


def powers(terms: Floats, seconds: Floats) -> Floats:
    """Fit a product of powers: logs of the terms, shape (n_draws, n_terms), against the log of the seconds."""
    middle, spread, logs = terms.mean(axis=0), terms.std(axis=0), np.log(seconds)
    scaled = (terms - middle) / spread
    at = np.linalg.solve(scaled.T @ scaled + np.eye(terms.shape[1]), scaled.T @ (logs - logs.mean())) / spread
    return np.append(logs.mean() - middle @ at, at)


def purges(primed: Sequence[Heard], caught_s: Sequence[float], *, described: bool) -> tuple[Floats, Floats]:
    """Return the logs of the purges' terms and the true lengths (s)."""
    terms = np.array([
        purge_terms(at_s, heard.rig if described else None) for heard, at_s in zip(primed, caught_s, strict=True)
    ])
    true = [heard.true_s for heard in primed]
    lengths = [(t["siphon catches"] or 0.0) - (t["air is driven out"] or 0.0) for t in true]
    return np.log(terms), np.maximum(np.array(lengths), 1.0)


def within(errors: Floats) -> str:
    return f"within {WITHIN_S:g} s in {int(np.sum(np.abs(errors) <= WITHIN_S))} of {len(errors)}"


def quiet_errors(primed: Sequence[Heard], parts: Sequence[Part]) -> Floats:
    """Return by how much (s) the end of the last sound was missed, each draw by a fit on the others."""
    errors = np.zeros(len(primed))
    for k in range(FOLDS):
        table = logistic([part for i, part in enumerate(parts) if i % FOLDS != k])
        for i in range(k, len(primed), FOLDS):
            end_s, true_s = ends_s(primed[i]), primed[i].true_s
            caught_s = true_s["siphon catches"] or 0.0
            caught = int(np.searchsorted(end_s - 0.25, caught_s))
            quantities = end_quantities(primed[i].moments, primed[i].floor, caught)
            last = sounding_until(quantities, table, caught)
            errors[i] = max(caught_s, float(end_s[last])) - (true_s["quiet"] or 0.0)
    return errors


def fit(primed: Sequence[Heard], clogged: Sequence[Heard]) -> None:
    found = np.zeros(len(primed))
    never = 0
    for k in range(FOLDS):
        table = logistic(catch_parts(
            [h for i, h in enumerate(primed) if i % FOLDS != k], [h for i, h in enumerate(clogged) if i % FOLDS != k]
        ))
        for i in range(k, len(primed), FOLDS):
            moments = primed[i].moments
            odds = log_odds(catch_quantities(moments, primed[i].floor), table)
            found[i] = moments[min(caught_from(odds), len(moments) - 1)].start_s
        for heard in clogged[k::FOLDS]:
            odds = log_odds(catch_quantities(heard.moments, heard.floor), table)
            never += caught_from(odds) == len(odds)
    true_s = np.array([h.true_s["siphon catches"] for h in primed])
    print(f"catch, draws left out: {within(found - true_s)}; clogged: no catch in {never} of {len(clogged)}")
    for described in (True, False):
        terms, lengths = purges(primed, found.tolist(), described=described)
        guessed = np.zeros(len(primed))
        for i in range(len(primed)):
            rest = np.arange(len(primed)) != i
            at = powers(terms[rest], lengths[rest])
            guessed[i] = np.exp(at[0] + terms[i] @ at[1:])
        errors = found - guessed - (true_s - lengths)
        print(f"air, {'described' if described else 'sound alone'}, draws left out: {within(errors)}")
        print("  powers:", [round(float(x), 3) for x in powers(terms, lengths)])
    print("CAUGHT =", logistic(catch_parts(primed, clogged)))
    parts = sounding_parts(primed)
    print(f"quiet, draws left out, caught when it did: {within(quiet_errors(primed, parts))}")
    print("SOUNDING =", logistic(parts))


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.restarts_fit", description=__doc__)
    parser.add_argument("--draws", type=int, default=150)
    parser.add_argument("--workers", type=int, default=1)
    args = parser.parse_args()
    seeds = range(FIRST_SEED, FIRST_SEED + args.draws)
    with ProcessPoolExecutor(args.workers) as pool:
        primed = list(pool.map(hear, [None] * len(seeds), seeds))
        clogged = list(pool.map(hear, ["siphon not purged"] * len(seeds[::5]), seeds[::5]))
    fit([h for h in primed if all(at is not None for at in h.true_s.values())], clogged)


if __name__ == "__main__":
    main()
