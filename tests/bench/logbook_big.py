"""A large logbook from a seed: a session a day for two years, about 5 million seconds in all.

The seconds are drawn as arrays and written as the entry writes them; the level drifts up as the pipes foul, a slurp
appears in the second year, and a fifth of the seconds is masked by the household. Nothing in it is a recording.
``python -m tests.bench.logbook_big FILE [--days N] [--seed S]`` writes one to look at.
"""

from __future__ import annotations

import argparse
import json
import sqlite3
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

from tuner.logbook import rows
from tuner.logbook.digest import keep_digest
from tuner.logbook.store import Logbook, Opening
from tuner.terms import SOUND_KINDS, Floor, Levels, Moment

DAYS, SECONDS = 730, 6_850
BEGINNING = datetime(2024, 1, 1, 20, tzinfo=UTC)
BANDS_HZ = tuple(round(25.0 * 2 ** (i / 3), 3) for i in range(28))
WINDOW_S = 30
DEVICE = "USB microphone"


def write(path: Path, seed: int, days: int = DAYS, seconds: int = SECONDS) -> int:
    """Write the logbook and return the number of its rows of seconds."""
    rng = np.random.default_rng(seed)
    now = [BEGINNING]
    floor = Floor(levels(30.0), 30.0, 29.0)
    with Logbook(path, clock=lambda: now[0]) as logbook:
        number = logbook.keep_floor(floor, DEVICE, 48_000, "beside the tank")
        check = logbook.keep_proof("microphone check", DEVICE, 48_000, {"honest": True})
        calibration = logbook.keep_proof("calibration", DEVICE, 48_000, {"offset_db": 110.0, "method": "calibrator"})
        for day in range(days):
            now[0] = BEGINNING + timedelta(days=day)
            entry = logbook.begin(Opening(
                "listen", DEVICE, 48_000, calibrated=True, rig_name="Kelpie", rig_text='name = "Kelpie"\n',
                floor_id=number, place="beside the tank", gain="60 %", offset_db=110.0, check_id=check,
                calibration_id=calibration, note=f"day {day}" if day % 10 == 0 else "",
                tags=("before",) if day < 30 else ("after",) if day >= days - 30 else (),
            ))
            entry.moment(Moment(0.0, 1.0, 40.0, BANDS_HZ, (30.0,) * len(BANDS_HZ), {}, 0.0))
            now[0] += timedelta(seconds=seconds)
            entry.close("silent" if day % 3 else "siphon over-closed")
            with sqlite3.connect(path) as plain:
                _fill(plain, entry.id, day, seconds, rng)
            plain.close()
    return days * seconds


def levels(laeq_db: float) -> Levels:
    bands = tuple(laeq_db - 15.0 for _ in BANDS_HZ)
    return Levels(laeq_db, laeq_db + 2, laeq_db - 1, laeq_db - 3, laeq_db + 8, BANDS_HZ, bands, calibrated=True)


def _fill(plain: sqlite3.Connection, session: int, day: int, seconds: int, rng: np.random.Generator) -> None:
    mean_db = 34.0 + day / 200.0
    level_db = mean_db + rng.normal(0.0, 1.5, seconds)
    bands = np.round((level_db[:, None] - 15.0 + rng.normal(0.0, 2.0, (seconds, len(BANDS_HZ)))) * 100).astype("<i2")
    heard = rng.integers(0, 30, (seconds, len(SOUND_KINDS))).astype(np.uint8)
    outside = np.where(rng.random(seconds) < 0.2, 90, 5)
    packed, shares = bands.tobytes(), heard.tobytes()
    wide, kinds = 2 * len(BANDS_HZ), len(SOUND_KINDS)
    plain.executemany(
        "INSERT OR REPLACE INTO readings VALUES (?, ?, ?, ?, ?, ?, 0, 0)",
        [
            (session, i, level, packed[i * wide : (i + 1) * wide], shares[i * kinds : (i + 1) * kinds], int(out))
            for i, (level, out) in enumerate(zip(level_db.tolist(), outside, strict=True))
        ],
    )
    count = int(rng.poisson(60))
    starts = np.sort(rng.random(count)) * seconds
    names = rng.choice(["gurgle", "trickle", "slurp"] if day > 365 else ["gurgle", "trickle"], count).tolist()
    plain.executemany(
        "INSERT INTO sounds (session_id, kind, start_s, end_s, level_db, confidence) VALUES (?, ?, ?, ?, ?, ?)",
        [(session, kind, at, at + 2.0, mean_db + 6.0, 0.9) for kind, at in zip(names, starts.tolist(), strict=True)],
    )
    heard_text = json.dumps([{
        "kind": "slurp", "share": 0.1, "probability": 0.2, "excess_db": 4.0, "period_s": 20.0 - day / 100, "events": 1,
    }])
    for end in range(WINDOW_S, seconds + 1, WINDOW_S):
        cursor = plain.execute(
            "INSERT INTO diagnoses (session_id, end_s, duration_s, silent, excess_db, levels, clean_s, outside_share,"
            " heard, features) VALUES (?, ?, 30.0, ?, 4.0, ?, 24.0, 0.2, ?, ?)",
            (session, end, day % 3 > 0, rows.levels_text(levels(mean_db)), heard_text, '{"rotor 2k": 0.3}'),
        )
        plain.execute(
            "INSERT INTO causes VALUES (?, 0, 'siphon over-closed', 0.8, '[\"gurgles in 20 % of the time\"]')",
            (cursor.lastrowid,),
        )
    if day % 30 == 0:
        plain.execute(
            "INSERT INTO moves (session_id, at_s, control, amount, unit, wait_s, why, expected, done, done_s, seen)"
            " VALUES (?, 100.0, 'siphon valve', 0.125, 'turn', 60.0, 'why', 'what', 0.125, 110.0, '2.0 dB quieter')",
            (session,),
        )
    keep_digest(plain, session)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("file", type=Path)
    parser.add_argument("--days", type=int, default=DAYS)
    parser.add_argument("--seed", type=int, default=100_000)
    wanted = parser.parse_args()
    print(f"{write(wanted.file, wanted.seed, wanted.days)} rows of seconds")
    sys.exit(0)
