"""The figures: ``python -m tests.bench [PART ...]`` prints them as they come out.

Parts: ``startup`` (of --help), ``cost`` (speed and memory of listening), ``screen`` (the full screen on a virtual
microphone, in real time), ``settled`` (the rehearsal's water against the balance), ``water`` (cost and honesty of the
hydraulic model), ``causes`` (first cause on rehearsal cases), ``coach`` (tuned through the microphone, under easy and
under hard terms), ``locate`` (which pipe, by a scan from place to place), ``silence`` (verdicts on noisy and quiet
draws), ``restarts`` (phases of a start), ``microphone`` (chains caught, in real time too), ``overnight`` (cost of a
night's confirmation), ``teach`` (what a rig's own templates gain), ``tones`` (against a second program), ``logbook``
(kills, size, speed on two years of sessions).
All by default; the whole takes about two hours and a half. Draws have seeds from 100000 up; none set anything.
The ears have a bench of their own: ``python -m tests.bench.ears``.
"""

from __future__ import annotations

import argparse
import sys
from importlib import import_module
from pathlib import Path

PARTS = (
    "startup", "cost", "screen", "settled", "water", "causes", "coach", "locate", "silence", "restarts", "microphone",
    "overnight", "teach", "tones", "logbook",
)


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("part", nargs="*", choices=[*PARTS, []], help="which figures (default: all)")
    parser.add_argument("--draws", type=int, default=200, help="draws of each part")
    parser.add_argument("--workers", type=int, default=2, help="processes for causes, coach, silence and teach")
    parser.add_argument("--first-seed", type=int, default=100_000, help="below 100000 only while setting thresholds")
    parser.add_argument("--recordings", type=Path, help="coach, silence: a folder of household sound (see training)")
    args = parser.parse_args()
    for name in args.part or PARTS:
        module = import_module(f"tests.bench.{name}")
        if name in ("coach", "silence"):
            module.run(args.draws, args.workers, args.first_seed, args.recordings)
        else:
            module.run(args.draws, args.workers, args.first_seed)
        sys.stdout.flush()
    return 0


if __name__ == "__main__":
    sys.exit(main())
