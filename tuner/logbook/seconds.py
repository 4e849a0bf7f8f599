"""A session's seconds as arrays: what comparison, trend and the page compute from."""

from __future__ import annotations

import json
import sqlite3
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tuner.logbook.rows import NO_LEVEL, STEP_DB

MASKED_FROM = 0.6  # probability of outside sound from which a second may not be the plumbing's; as the ears have it


@dataclass(frozen=True, slots=True)
class Seconds:
    """The n seconds of a session, in order; a second that was not heard is not there.

    Parameters
    ----------
    second
        Whole seconds from the session's start, int64, shape (n,).
    level_db
        A-weighted Leq of each second, NaN where there was no sound at all, shape (n,).
    bands_hz, bands_db
        Third-octave centres (Hz), shape (b,), and levels, minus infinity where there was none, shape (n, b).
    kinds, heard
        Sound kinds, and the probability (0-1) of each, shape (n, len(kinds)).
    outside
        Probability (0-1) of sound that is not the plumbing's, shape (n,).
    dropped, clipped
        Samples lost before and clipped in each second, int64, shape (n,).
    """

    second: NDArray[np.int64]
    level_db: NDArray[np.float64]
    bands_hz: NDArray[np.float64]
    bands_db: NDArray[np.float64]
    kinds: tuple[str, ...]
    heard: NDArray[np.float64]
    outside: NDArray[np.float64]
    dropped: NDArray[np.int64]
    clipped: NDArray[np.int64]

    @property
    def clean(self) -> NDArray[np.bool_]:
        """Whether each second is the plumbing's: outside sound is not likely, or less so than the plumbing's."""
        best = self.heard.max(axis=1, initial=0.0)
        return np.asarray((self.outside < MASKED_FROM) | (self.outside <= best))


def seconds_of(connection: sqlite3.Connection, session: int) -> Seconds:
    """Read the seconds of a session; all arrays are empty when there is none."""
    about = connection.execute("SELECT bands_hz, kinds FROM sessions WHERE id = ?", (session,)).fetchone()
    bands_hz = np.array(json.loads(about[0]) if about else [], dtype=np.float64)
    kinds: tuple[str, ...] = tuple(json.loads(about[1])) if about else ()
    found = connection.execute(
        "SELECT second, level_db, bands, heard, outside, dropped, clipped FROM readings WHERE session_id = ?"
        " ORDER BY second",
        (session,),
    ).fetchall()
    second, level, bands, heard, outside, dropped, clipped = zip(*found, strict=True) if found else ((),) * 7
    packed = np.frombuffer(_even(bands, 2 * bands_hz.size, NO_LEVEL.to_bytes(2, "little", signed=True)), "<i2")
    values = packed.reshape(len(found), bands_hz.size)
    shares = np.frombuffer(_even(heard, len(kinds), b"\0"), np.uint8).reshape(len(found), len(kinds))
    return Seconds(
        second=np.array(second, dtype=np.int64),
        level_db=np.array(level, dtype=np.float64),
        bands_hz=bands_hz,
        bands_db=np.where(values == NO_LEVEL, -np.inf, values * STEP_DB),
        kinds=kinds,
        heard=shares / 100.0,
        outside=np.array(outside, dtype=np.float64) / 100.0,
        dropped=np.array(dropped, dtype=np.int64),
        clipped=np.array(clipped, dtype=np.int64),
    )


def _even(blobs: tuple[bytes, ...], size: int, filler: bytes) -> bytes:
    """Join blobs that must have ``size`` bytes each; one of another length is cut or filled."""
    joined = b"".join(blobs)
    if len(joined) == size * len(blobs):
        return joined
    fill = filler * (size // len(filler))
    return b"".join((blob + fill[len(blob) :])[:size] for blob in blobs)
