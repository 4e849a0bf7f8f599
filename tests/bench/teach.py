"""What teaching gains: drawn rigs taught on one stretch each, scored on other stretches, with and without templates.

One drawn rig, room and microphone a seed (16 kHz). Taught: the quiet, the slurp edge and the gurgle edge, 30 s each (a
slurp with long pauses up to 120 s), by the same checks as ``hushweir teach``. Scored: 60 s of slurp and 30 s of gurgle
further past their edges, 30 s of quiet elsewhere in the window, alone at another gain and again under made-up household
sound at 28-45 dB, and 15 s each of two wrong vent settings. A second counts as holding a kind when its mean power is
estimated at no less than 4 dB under room, microphone and household together, as free of it when the kind is not driven
at all; what lies between is left out. Said is what has a probability of a half or more.
"""

from __future__ import annotations

from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tuner.errors import ConfigError
from tuner.rehearsal.cases import draw_case
from tuner.rehearsal.drives import SPOTS
from tuner.rehearsal.rehearsal import Rehearsal
from tuner.rehearsal.voices import TYPICAL_LEVEL_DB
from tuner.signatures.catalogue import course_of
from tuner.signatures.ears import Look, looks_of
from tuner.signatures.learning import heard_with, learn, with_part
from tuner.signatures.model import load_model
from tuner.signatures.taught import PARTS, Taught, Templates, recall
from tuner.terms import SOUND_KINDS, SoundKind
from tuner.training.household import made_up

RATE = 16_000
PART_S, MOST_SLURP_S = 30.0, 120.0
HEARD_DB = -4.0
DRAINS: tuple[SoundKind, ...] = ("gurgle", "slurp", "trickle", "splash", "hiss", "flush", "roar")
EDGES: tuple[tuple[Taught, float], ...] = (("slurp", 1.0), ("gurgle", -1.0))

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Stretch:
    """Features and levels of each kind over the rest (dB, -inf where not driven), look by look."""

    name: str
    features: Floats
    over_db: Floats


@dataclass(frozen=True)
class Scored:
    """A draw: why parts were not learnt, and for each stretch truth levels and probabilities without and with."""

    seed: int
    doubts: tuple[str, ...]
    rows: tuple[tuple[str, Floats, Floats, Floats, Floats], ...]
    trust: tuple[tuple[str, float], ...]


def over_db(rehearsal: Rehearsal, n: int, household_db: float | None) -> Floats:
    """Return how far each kind stands over everything that is not the plant, for the second of each look (n, 9)."""
    cabinet = rehearsal.cabinet
    rest = 10 ** (cabinet.floor_db / 10) + (0.0 if household_db is None else 10 ** (household_db / 10))
    power = np.zeros((n, len(SOUND_KINDS)))
    for spot, drive in rehearsal.drives.items():
        kind = SPOTS[spot]
        level = TYPICAL_LEVEL_DB[kind] + cabinet.loss_db(spot) - 14.0 * np.log10(max(cabinet.distance_m, 0.3))
        seconds = np.array([np.mean(drive[10 * i : 10 * i + 20] ** 2) for i in range(n)])
        power[:, SOUND_KINDS.index(kind)] += 10 ** (level / 10) * seconds
    with np.errstate(divide="ignore"):
        return np.asarray(10 * np.log10(power / rest))


def heard(
    rehearsal: Rehearsal, name: str, seconds: float, rng: np.random.Generator, household: bool = False
) -> Stretch:
    """Listen to a stretch at some other gain."""
    samples = rehearsal.listen(seconds).astype(np.float64)
    household_db = float(rng.uniform(28.0, 45.0)) if household else None
    if household_db is not None:
        sound = made_up(rng, RATE, len(samples))
        wanted = 10 ** ((household_db - rehearsal.full_scale_offset_db) / 20)
        samples += sound * wanted / (np.sqrt(np.mean(sound**2)) + 1e-12)
    gain = 10 ** (float(rng.uniform(-15.0, 6.0)) / 20)
    looks = looks_of(np.clip(gain * samples, -1.0, 1.0).astype(np.float32), RATE)
    return Stretch(name, np.stack([k.features for k in looks]), over_db(rehearsal, len(looks), household_db))


def at_valve(rehearsal: Rehearsal, opening: float) -> None:
    settings = rehearsal.plant.settings
    rehearsal.plant.set(replace(settings, valve=float(np.clip(opening, 0.03, 1.0))))
    rehearsal.wait(60.0)


def edge(rehearsal: Rehearsal, kind: Taught, way: float, at: float) -> float | None:
    """Return the opening, found 2 % at a time from the computed edge, at which the plant drives ``kind``."""
    for _ in range(8):
        at *= 1.0 + 0.02 * way
        at_valve(rehearsal, at)
        drives = rehearsal.truth.drives
        if sum(d for spot, d in drives.items() if SPOTS[spot] == kind) > 0.03:
            return at
    return None


def taught(rehearsal: Rehearsal, part: Taught, known: Templates | None) -> tuple[Templates | None, str]:
    """Learn a part as the tool does."""
    looks: tuple[Look, ...] = ()
    samples = np.zeros(0, np.float32)
    doubt = ""
    for _ in range(int(MOST_SLURP_S / PART_S) if part == "slurp" else 1):
        samples = np.concatenate([samples, rehearsal.listen(PART_S)])
        looks = looks_of(samples, RATE)
        learnt = learn(part, looks, known, load_model())
        doubt = learnt.doubt
        if learnt.part is not None:
            return with_part(known, part, learnt.part, device="", sample_rate=RATE, day=""), ""
    return known, f"{part}: {doubt.split(':')[0].split('(')[0]}"


def draw(seed: int) -> tuple[Templates | None, tuple[str, ...], list[Stretch]]:
    """Return what was taught of a draw, what was refused, and the stretches to score."""
    rng = np.random.default_rng([seed, 41])
    rehearsal = draw_case(None, seed, sample_rate=RATE)
    window, middle = rehearsal.truth.window, rehearsal.truth.settings.valve
    known, doubt = taught(rehearsal, "quiet", None)
    doubts = [doubt]
    places: dict[str, float] = {}
    for part, way in EDGES:
        at_valve(rehearsal, middle)
        found = edge(rehearsal, part, way, window.slurp_edge if way > 0 else window.gurgle_edge)
        if found is None:
            doubts.append(f"{part}: the plant has no such edge")
            continue
        places[part] = found
        if known is not None:
            known, doubt = taught(rehearsal, part, known)
            doubts.append(doubt)
    stretches: list[Stretch] = []
    half = 0.3 * min(window.slurp_edge - middle, middle - window.gurgle_edge)
    for household in (False, True):
        states = {part: at * (1 + rng.uniform(0.01, 0.12) if part == "slurp" else 1 - rng.uniform(0.005, 0.08))
                  for part, at in places.items()} | {"quiet": middle + rng.uniform(-half, half)}
        for name, opening in states.items():
            at_valve(rehearsal, middle)
            at_valve(rehearsal, opening)
            stretches.append(heard(rehearsal, name, 60.0 if name == "slurp" else 30.0, rng, household))
            if household:
                stretches[-1] = replace(stretches[-1], name=f"{name} household")
    at_valve(rehearsal, middle)
    settings = rehearsal.plant.settings
    for name, factor in (("vent wide", 2.5), ("vent tight", 0.4)):
        rehearsal.plant.set(replace(settings, vent=min(1.0, settings.vent * factor)))
        rehearsal.wait(60.0)
        stretches.append(heard(rehearsal, name, 15.0, rng))
    return known, tuple(d for d in doubts if d), stretches


def one(seed: int) -> Scored | None:
    """Score a draw; None when there is none of this seed."""
    try:
        known, doubts, stretches = draw(seed)
    except ConfigError:
        return None
    model = load_model()
    ready = recall(known, model) if known is not None and known.usable else None
    rows = []
    for s in stretches:
        general = course_of(model, s.features)
        after = heard_with(ready, s.features, model) if ready else general
        likeness = np.zeros((len(s.features), len(PARTS)))
        if ready:
            likeness[:, [PARTS.index(p) for p in ready.parts]] = ready.likeness(s.features)[:, :-1]
        rows.append((s.name, s.over_db, general, after, likeness))
    trust = tuple(zip(ready.parts, ready.trust.tolist(), strict=True)) if ready else ()
    return Scored(seed, doubts, tuple(rows), trust)


def counts(over: Floats, probability: Floats, kinds: tuple[SoundKind, ...]) -> NDArray[np.int64]:
    """Return hits, false alarms, misses and free looks of any of some kinds."""
    columns = [SOUND_KINDS.index(k) for k in kinds]
    there, free = (over[:, columns] >= HEARD_DB).any(axis=1), np.isneginf(over[:, columns]).all(axis=1)
    said = (probability[:, columns] >= 0.5).any(axis=1)
    return np.array([np.sum(there & said), np.sum(free & said), np.sum(there & ~said), np.sum(free)])


def words(c: NDArray[np.int64]) -> str:
    hit, false, missed, free = (float(v) for v in c)
    precision, recall_ = hit / max(hit + false, 1.0), hit / max(hit + missed, 1.0)
    f1 = 2 * precision * recall_ / max(precision + recall_, 1e-9)
    return f"F1 {f1:.3f} (precision {precision:.3f}, recall {recall_:.3f}), false alarms {false / max(free, 1.0):.2%}"


def run(draws: int, workers: int, first_seed: int) -> None:
    with ProcessPoolExecutor(workers) as pool:
        results = [r for r in pool.map(one, range(first_seed, first_seed + draws)) if r is not None]
    learnt = Counter(part for r in results for part, trust in r.trust if trust > 0.0)
    print(f"teach: {len(results)} drawn rigs; usable parts: " + ", ".join(f"{p} {learnt[p]}" for p in PARTS))
    for doubt, n in Counter(d for r in results for d in r.doubts).most_common():
        print(f"  not learnt {n} times: {doubt}")
    questions: tuple[tuple[str, tuple[SoundKind, ...]], ...] = (
        ("gurgle", ("gurgle",)), ("slurp", ("slurp",)), ("any sound of the drains", DRAINS),
    )
    for name, kinds in questions:
        for household in (False, True):
            rows = [row for r in results for row in r.rows if ("household" in row[0]) == household]
            where = "household" if household else "alone"
            for label, place in (("without", 2), ("with", 3)):
                total = np.sum([counts(row[1], row[place], kinds) for row in rows], axis=0)
                print(f"teach: {name}, {where}, {label:7s} templates: {words(total)}")
    for name, kinds in questions:
        gains = []
        for r in results:
            before, after = (np.sum([counts(row[1], row[place], kinds) for row in r.rows], axis=0) for place in (2, 3))
            gains.append(int((after[0] - after[1]) - (before[0] - before[1])))
        better, worse = sum(g > 0 for g in gains), sum(g < 0 for g in gains)
        print(f"teach: {name}: more hits less false alarms on {better} rigs, fewer on {worse}, of {len(results)}")
