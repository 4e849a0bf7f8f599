"""A session in a few dozen figures, kept beside it, so that years of sessions can be looked over at once.

A digest is made when a session ends. It can be made again from what the session holds at any time; one that does
not cover all seconds (the session went on, or was cut off) counts as missing.
"""

from __future__ import annotations

import json
import sqlite3
from dataclasses import asdict, dataclass
from statistics import median
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tuner.logbook.seconds import Seconds, seconds_of


@dataclass(frozen=True, slots=True)
class KindDigest:
    """One kind of sound in a session: how many sounds ended, how long they lasted, its mean probability (0-1) over the
    clean seconds, the energy mean of its sounds' levels (dB), and the median of the periods at which it returned (s).
    """

    count: int
    sounding_s: float
    probability: float
    level_db: float | None
    period_s: float | None


@dataclass(frozen=True, slots=True)
class Digest:
    """A session in figures.

    ``seconds`` counts from the start to the last second heard, ``heard_s`` the seconds that were, ``clean_s`` those
    without outside sound. Levels are of the clean seconds (None without any): Leq, and the levels exceeded for 10, 50
    and 90 % of the time; ``bands_db`` the energy mean over ``bands_hz``, None where a band had no sound.
    ``features`` holds the medians of the named numbers of the listening windows, ``excess_db`` the median of their
    levels over the room, ``windows`` how many there were and ``silent_windows`` how many of these were silent.
    """

    session: int
    seconds: int
    heard_s: int
    clean_s: int
    laeq_db: float | None
    la10_db: float | None
    la50_db: float | None
    la90_db: float | None
    bands_hz: tuple[float, ...]
    bands_db: tuple[float | None, ...]
    kinds: dict[str, KindDigest]
    features: dict[str, float]
    excess_db: float | None
    windows: int
    silent_windows: int


def make_digest(connection: sqlite3.Connection, session: int) -> Digest:
    """Sum up a session from its seconds, sounds and listening windows."""
    seconds = seconds_of(connection, session)
    clean = seconds.clean & np.isfinite(seconds.level_db)
    level_db = seconds.level_db[clean]
    la10, la50, la90 = (float(x) for x in np.quantile(level_db, (0.9, 0.5, 0.1))) if level_db.size else (None,) * 3
    windows = connection.execute(
        "SELECT silent, excess_db, heard, features FROM diagnoses WHERE session_id = ?", (session,)
    ).fetchall()
    excess = [row[1] for row in windows if row[1] is not None]
    features: dict[str, list[float]] = {}
    for row in windows:
        for name, value in json.loads(row[3]).items():
            features.setdefault(name, []).append(value)
    bands = [_energy_mean_db(column) for column in seconds.bands_db[clean].T]
    return Digest(
        session=session,
        seconds=int(seconds.second[-1]) + 1 if seconds.second.size else 0,
        heard_s=int(seconds.second.size),
        clean_s=int(clean.sum()),
        laeq_db=_energy_mean_db(level_db), la10_db=la10, la50_db=la50, la90_db=la90,
        bands_hz=tuple(float(x) for x in seconds.bands_hz), bands_db=tuple(bands),
        kinds=_kinds(connection, session, seconds, clean, [json.loads(row[2]) for row in windows]),
        features={name: float(median(values)) for name, values in features.items()},
        excess_db=float(median(excess)) if excess else None,
        windows=len(windows),
        silent_windows=sum(bool(row[0]) for row in windows),
    )


def _kinds(
    connection: sqlite3.Connection, session: int, seconds: Seconds, clean: NDArray[np.bool_],
    windows: list[list[dict[str, Any]]],
) -> dict[str, KindDigest]:
    sounds: dict[str, list[tuple[float, float | None]]] = {}
    for kind, start_s, end_s, level_db in connection.execute(
        "SELECT kind, start_s, end_s, level_db FROM sounds WHERE session_id = ?", (session,)
    ):
        sounds.setdefault(kind, []).append((end_s - start_s, level_db))
    periods: dict[str, list[float]] = {}
    for window in windows:
        for heard in window:
            if heard["period_s"] is not None:
                periods.setdefault(heard["kind"], []).append(heard["period_s"])
    result = {}
    for kind in (*seconds.kinds, *(k for k in sounds if k not in seconds.kinds)):
        own = sounds.get(kind, [])
        share = 0.0
        if kind in seconds.kinds and clean.any():
            share = float(seconds.heard[clean, seconds.kinds.index(kind)].mean())
        if own or share or kind in periods:
            level = _energy_mean_db(np.array([level for _, level in own if level is not None]))
            period = float(median(periods[kind])) if kind in periods else None
            result[kind] = KindDigest(len(own), sum(length for length, _ in own), round(share, 4), level, period)
    return result


def _energy_mean_db(level_db: NDArray[np.float64]) -> float | None:
    power = float(np.mean(10.0 ** (level_db / 10.0))) if level_db.size else 0.0
    return round(10.0 * float(np.log10(power)), 3) if power > 0.0 else None


def keep_digest(connection: sqlite3.Connection, session: int) -> None:
    """Make a session's digest and keep it; the caller holds the transaction."""
    digest = make_digest(connection, session)
    connection.execute(
        "INSERT OR REPLACE INTO digests (session_id, seconds, body) VALUES (?, ?, ?)",
        (session, digest.seconds, json.dumps(asdict(digest), separators=(",", ":"))),
    )


def missing_digests(connection: sqlite3.Connection, most: int) -> tuple[int, ...]:
    """Return the numbers of at most ``most`` sessions whose digest is missing or does not cover them, newest first."""
    found = connection.execute(
        "SELECT s.id FROM sessions s LEFT JOIN digests d ON d.session_id = s.id WHERE d.seconds IS NULL OR d.seconds !="
        " coalesce((SELECT max(second) + 1 FROM readings WHERE session_id = s.id), 0) ORDER BY s.id DESC LIMIT ?",
        (most,),
    )
    return tuple(row[0] for row in found)


def digest_of(connection: sqlite3.Connection, session: int) -> Digest:
    """Return the digest that is kept when it covers the session, else a new one."""
    kept = connection.execute(
        "SELECT body FROM digests WHERE session_id = ? AND seconds ="
        " coalesce((SELECT max(second) + 1 FROM readings WHERE session_id = ?), 0)",
        (session, session),
    ).fetchone()
    return make_digest(connection, session) if kept is None else _parsed(session, kept[0])


def _parsed(session: int, text: str) -> Digest:
    body = json.loads(text)
    # The number is the file's own: an imported digest carries that of the file that it came from.
    body["session"] = session
    body["kinds"] = {kind: KindDigest(**figures) for kind, figures in body["kinds"].items()}
    for name in ("bands_hz", "bands_db"):
        body[name] = tuple(body[name])
    return Digest(**body)
