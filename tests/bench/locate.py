"""Which pipe: the place of the prevailing sound after a scan of three seconds a place, and how sure it is.

Every draw has one cause; the microphone is held at the seven places in a drawn order, in a quarter of the draws in a
cup pressed against the pipe. The true place is where the loudest spots of the plant are, by their mean power at 1 m
while the microphone was held; places within 3 dB of the loudest count as well. Draws in which the drains happened to be
silent while it was held stay in the figure.
"""

from __future__ import annotations

from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from tests.bench.ears_cases import CASES
from tuner.causes import diagnose_reading
from tuner.causes.location import Scan
from tuner.rehearsal.cases import draw_case
from tuner.rehearsal.drives import SPOTS, Floats, Spot
from tuner.rehearsal.nearby import HOME
from tuner.rehearsal.rehearsal import Rehearsal
from tuner.terms import PLACES, Place
from tuner.training.household import made_up
from tuner.verbs.scanning import Round

RATE = 16_000  # a third of the cost; the bands of drains lie below 8 kHz
HELD_S = 3.0
CUP_SHARE = 0.25
HOUSEHOLD_DB = (32.0, 52.0)
WITHIN_DB = 3.0
SOUNDED_DB = 10.0  # at 1 m: 12 dB under the quietest room
STEPS_OF_SURENESS = (0.0, 0.5, 0.7, 0.85, 0.95, 1.01)


@dataclass(frozen=True, slots=True)
class Found:
    """One scan: its cause, the true places, the place said with its probability, sounds by kind, causes."""

    seed: int
    cause: str
    true: frozenset[Place]
    sounded: bool
    said: str
    probability: float
    kinds: tuple[tuple[str, str, float, bool], ...]
    cause_heard: str
    cause_located: str


def scanned(seed: int, rounds: int, household: bool) -> list[Found]:
    """Scan a draw and return what was found after each round."""
    rng = np.random.default_rng([seed, 41])
    cause = CASES[seed % len(CASES)]
    noise = made_up(rng, RATE, 20 * RATE).astype(np.float32) if household else None
    rehearsal = draw_case(
        cause, seed, sample_rate=RATE, household=noise, household_db=float(rng.uniform(*HOUSEHOLD_DB))
    )
    cup = bool(rng.random() < CUP_SHARE)
    scan_round = Round(RATE, rehearsal.rig)
    power: dict[Spot, list[Floats]] = {spot: [] for spot in SPOTS}
    out = []
    for _ in range(rounds):
        for number in rng.permutation(len(PLACES)):
            scan_round.take(PLACES[number], rehearsal.hold(PLACES[number], HELD_S, cup=cup))
            for spot, drive in rehearsal.drives.items():
                power[spot].append(drive**2)
        out.append(_found(seed, cause, rehearsal, power, scan_round))
    return out


def _found(
    seed: int, cause: str, rehearsal: Rehearsal, power: dict[Spot, list[Floats]], scan_round: Round
) -> Found:
    strength: dict[str, dict[Place, float]] = {}
    for spot, parts in power.items():
        mean = float(np.concatenate(parts).mean())
        if mean > 0.0:
            level_db = rehearsal.cabinet.voice(spot).level_db  # type: ignore[attr-defined]
            at = 10.0 ** ((level_db + rehearsal.cabinet.loss_db(spot)) / 10.0) * mean
            kind = strength.setdefault(SPOTS[spot], {})
            kind[HOME[spot]] = kind.get(HOME[spot], 0.0) + at
    total: dict[Place, float] = {}
    for by_place in strength.values():
        for place, at in by_place.items():
            total[place] = total.get(place, 0.0) + at
    loudest = max(total.values())
    true = frozenset(p for p, at in total.items() if at >= loudest * 10.0 ** (-WITHIN_DB / 10.0))
    scan = scan_round.scan()
    reading = scan_round.reading()
    heard, located = (diagnose_reading(reading, rig=rehearsal.rig, scan=s) for s in (None, scan))
    return Found(
        seed, cause, true, 10.0 * np.log10(loudest) > SOUNDED_DB, scan.prevailing.place, scan.prevailing.probability,
        _kinds(scan, strength), *("silent" if d.silent else d.causes[0].name for d in (heard, located)),
    )


def _kinds(scan: Scan, strength: dict[str, dict[Place, float]]) -> tuple[tuple[str, str, float, bool], ...]:
    out = []
    for sound in scan.sounds:
        if by_place := strength.get(sound.kind):
            true = max(by_place, key=lambda p: by_place[p])
            out.append((sound.kind, sound.place, sound.probability, sound.place == true))
    return tuple(out)


def alone(seed: int) -> list[Found]:
    return scanned(seed, 2, household=False)


def under_household(seed: int) -> list[Found]:
    return scanned(seed, 2, household=True)


def report(name: str, found: list[Found]) -> None:
    n = len(found)
    right = [f.said in f.true for f in found]
    sounded = [f for f in found if f.sounded]
    print(f"locate: {name}: right place on {sum(right)} of {n} draws ({sum(right) / n:.1%}); of {len(sounded)} draws"
          f" that sounded while held, {sum(f.said in f.true for f in sounded)}")
    for low, high in pairwise(STEPS_OF_SURENESS):
        inside = [(f.probability, ok) for f, ok in zip(found, right, strict=True) if low <= f.probability < high]
        if inside:
            said, was = np.mean(np.array(inside), axis=0)
            print(f"  sure {low:.0%} to {min(high, 1.0):.0%}: {len(inside)} scans, said {said:.1%}, right {was:.1%}")
    for (cause, true, said), count in Counter(
        (f.cause, "/".join(sorted(f.true)), f.said) for f in found if f.said not in f.true
    ).most_common():
        print(f"  {cause}: {true} taken for {said}: {count}")
    kinds = [k for f in found for k in f.kinds]
    by_kind = ", ".join(
        f"{kind} {sum(k[3] for k in kinds if k[0] == kind)}/{sum(k[0] == kind for k in kinds)}"
        for kind in dict.fromkeys(k[0] for k in kinds)
    )
    print(f"  each kind that was heard, at its own place: {by_kind}")
    for words, causes in (("without", [f.cause_heard for f in found]), ("with", [f.cause_located for f in found])):
        hits = sum(f.cause == c for f, c in zip(found, causes, strict=True))
        print(f"  first cause right from the held sound {words} the places: {hits / n:.1%}")


def run(draws: int, workers: int, first_seed: int) -> None:
    seeds = range(first_seed, first_seed + draws)
    with ProcessPoolExecutor(workers) as pool:
        for name, scan in (("quiet house", alone), ("household sound", under_household)):
            results = list(pool.map(scan, seeds))
            report(f"{name}, {HELD_S:g} s a place", [r[0] for r in results])
            report(f"{name}, every place twice", [r[1] for r in results])
