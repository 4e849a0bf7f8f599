"""Sounds by kind on scenes held apart: one-second segments, events with collars (sed_eval), calibration."""

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

from tests.bench.household import clips_apart, in_both_rooms
from tests.bench.scoring import COLLAR_S, LENGTH_SHARE, Tally, heard_segments, true_events, true_segments
from tuner.signatures.listener import Listener
from tuner.terms import SOUND_KINDS, Moment, Sound
from tuner.training.evening import LEVELS_DB, evening
from tuner.training.scenes import FIRST_REPORT_SEED, Scene, draw_scene

RATE = 48000
SECONDS = 20.0


def one(job: tuple[int, Path | None]) -> tuple[Scene, tuple[Sound, ...], tuple[Moment, ...]]:
    seed, folder = job
    rng = np.random.default_rng(seed)
    first = 2 * FIRST_REPORT_SEED if seed >= FIRST_REPORT_SEED else 1
    over = None
    if folder:
        own = np.random.default_rng([seed, 1])
        over = evening(own, clips_apart(folder, RATE), RATE, SECONDS), float(own.uniform(*LEVELS_DB))
    scene = draw_scene(
        rng, sample_rate=RATE, seconds=SECONDS, household=None, plant_seeds=(first, first + FIRST_REPORT_SEED - 1),
        evening=over,
    )
    listener = Listener(RATE)
    sounds = [*listener.feed(scene.samples), *listener.flush()]
    return scene, tuple(sounds), listener.moments()


def run(args: argparse.Namespace) -> None:
    in_both_rooms("scenes", lambda name, folder: score(name, args, folder), args)


def score(name: str, args: argparse.Namespace, folder: Path | None) -> None:
    import sed_eval

    labels = list(SOUND_KINDS)
    events = sed_eval.sound_event.EventBasedMetrics(labels, t_collar=COLLAR_S, percentage_of_length=LENGTH_SHARE)
    tally = Tally()
    false_alarms, quiet_s = 0, 0.0
    jobs = [(args.first_seed + i, folder) for i in range(args.draws)]
    with ProcessPoolExecutor(args.workers) as pool:
        for i, (scene, sounds, moments) in enumerate(pool.map(one, jobs, chunksize=4)):
            truth = true_segments(scene)
            tally.add(truth, heard_segments(sounds, len(truth)))
            tally.add_moments(moments, scene.over_db)
            heard = [(s.kind, s.start_s, s.end_s) for s in sounds]
            events.evaluate(table(str(i), true_events(scene)), table(str(i), heard))
            absent = (truth == 0).all(axis=1)
            quiet_s += float(absent.sum())
            false_alarms += sum(
                1 for s in sounds if absent[int(s.start_s) : max(int(s.start_s) + 1, int(np.ceil(s.end_s)))].all()
            )
    print(f"scenes, {name}: {args.draws} of {SECONDS:g} s; sounds as the keeper sees them, in one-second segments")
    print("\n".join(tally.lines()))
    micro = events.results_overall_metrics()["f_measure"]
    print(f"  events, collar {COLLAR_S:g} s or {LENGTH_SHARE:.0%} of the length: micro F1 {micro['f_measure']:.3f}, "
          f"precision {micro['precision']:.3f}, recall {micro['recall']:.3f}")
    print(f"  sounds in stretches without any: {false_alarms} in {quiet_s / 3600:.2f} h")
    error, rows = tally.calibration()
    print(f"  expected calibration error {error:.3f}")
    print("\n".join(rows))


def table(file: str, events: list[tuple[str, float, float]]) -> list[dict]:
    return [{"file": file, "event_label": k, "event_onset": a, "event_offset": b} for k, a, b in events]
