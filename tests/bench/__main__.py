"""The figures: ``python -m tests.bench [PART ...]`` prints them as they come out.

Parts: ``causes`` (first cause on rehearsal cases), ``loop`` (closed loop with the ears), ``cost`` (speed and memory
of listening), ``silence`` (verdicts, chains, restarts), ``startup`` (of --help). All by default. Draws have seeds from
100000 up; none set anything.
"""

from __future__ import annotations

import argparse
import sys

from tests.bench import causes, cost, loop, silence, startup

PARTS = {"causes": causes.run, "loop": loop.run, "cost": cost.run, "silence": silence.run, "startup": startup.run}


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("part", nargs="*", choices=[*PARTS, []], help="which figures (default: all)")
    parser.add_argument("--draws", type=int, default=200, help="draws for causes and loop")
    parser.add_argument("--workers", type=int, default=2, help="processes for causes and loop")
    parser.add_argument("--first-seed", type=int, default=100_000, help="below 100000 only while setting thresholds")
    args = parser.parse_args()
    for name in args.part or PARTS:
        PARTS[name](args.draws, args.workers, args.first_seed)
        sys.stdout.flush()
    return 0


if __name__ == "__main__":
    sys.exit(main())
