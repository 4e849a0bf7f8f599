"""Draw every picture anew: the screens are the program's own, what they show comes from the rehearsal rig."""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

from tests.pictures import interview, listening, pages, proving, tuning

HERE = Path(__file__).resolve().parent


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.pictures", description="Draw the README's pictures anew.")
    parser.add_argument("folder", type=Path, nargs="?", default=HERE, help="where to write them (default: beside this)")
    folder: Path = parser.parse_args().folder
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as scratch:
        for room in (pages, interview, listening, tuning, proving):
            for name, svg in room.pictures(Path(scratch)):
                (folder / f"{name}.svg").write_text(svg, encoding="utf-8")
                sys.stdout.write(f"{folder / name}.svg\n")


if __name__ == "__main__":
    main()
