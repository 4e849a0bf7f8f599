"""How well the ears hear: ``make bench-ears``, or ``python -m tests.bench.ears [PART ...] [--recordings DIR] ...``.

Parts: ``scenes`` (sounds by kind in one-second segments and as events, calibration; quiet room and under household
sound), ``cases`` (first cause, silent or not), ``real`` (real recordings: water or not, what confusers are heard as;
with ``--judge`` an outside tagger beside it), ``wear`` (a phone's rate, a codec, clipping, 40 dB less), ``others``
(first cause and silence on sounds made by another synthesiser, which no part of the program learned from).
Scenes, cases and others have seeds from 100000 up, recordings are those of the half that fitted nothing. Without
``--recordings`` (a folder with MANIFEST.csv) what needs them is left out, and said.
"""

from __future__ import annotations

import argparse
import sys
from importlib import import_module
from pathlib import Path

PARTS = ("scenes", "cases", "real", "wear", "others")


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.ears", description=__doc__,
                                     formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("part", nargs="*", choices=[*PARTS, []], help="which figures (default: all)")
    parser.add_argument("--recordings", type=Path, help="folder of labelled recordings")
    parser.add_argument("--judge", type=Path, help="folder of an outside tagger (judge.py and its model)")
    parser.add_argument("--draws", type=int, default=200)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--first-seed", type=int, default=100_000, help="below 100000 only while setting thresholds")
    args = parser.parse_args()
    for name in args.part or PARTS:
        import_module(f"tests.bench.ears_{name}").run(args)
        sys.stdout.flush()
    return 0


if __name__ == "__main__":
    sys.exit(main())
