"""Keep what sound libraries print on the C error stream off the screen.

PortAudio, ALSA and the MP3 decoder write warnings straight to file descriptor 2, past Python, in the middle
of whatever is drawn there. ``silenced`` sends that descriptor to nowhere for a while. Python's own
``sys.stderr`` still reaches the terminal meanwhile, so that messages of this program are not lost.
"""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterator
from typing import TextIO

_C_STDERR = 2


@contextlib.contextmanager
def silenced() -> Iterator[None]:
    """Discard what C code writes to the error stream; always undone at the end.

    A process without an error stream is left as it is. Not for nesting out of order: the stretch that began
    last has to end first.
    """
    try:
        kept = os.dup(_C_STDERR)
    except OSError:
        yield
        return
    python_stderr = sys.stderr
    detour = _detour(python_stderr, kept)
    try:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        try:
            os.dup2(nowhere, _C_STDERR)
        finally:
            os.close(nowhere)
        if detour is not None:
            sys.stderr = detour
        yield
    finally:
        if detour is not None:
            detour.flush()
            if sys.stderr is detour:
                sys.stderr = python_stderr
        os.dup2(kept, _C_STDERR)
        os.close(kept)


def _detour(stream: TextIO | None, descriptor: int) -> TextIO | None:
    """Return a stream onto ``descriptor`` that stands in for ``stream``, when that one writes to C's stderr."""
    if stream is None:
        return None
    try:
        if stream.fileno() != _C_STDERR:
            return None
        stream.flush()
    except (OSError, ValueError):
        return None
    return open(
        descriptor, "w", buffering=1, encoding=stream.encoding, errors=stream.errors, closefd=False
    )
