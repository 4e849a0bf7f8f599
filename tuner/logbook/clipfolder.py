"""The folder of clips beside the logbook: short pieces of audio that the keeper asked for, the owner's alone.

A clip's name says session, time and sound, and nothing that anybody typed. Names that the logbook holds are checked
before a file is touched, so that a logbook from elsewhere cannot reach out of the folder.
"""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from pathlib import Path

from tuner.errors import LogbookError
from tuner.terms import Samples

MOST_BYTES = 50_000_000  # some hundreds of clips: enough for years of before and after
_NAME = re.compile(r"[a-z0-9-]{1,60}\.flac")


@dataclass(frozen=True, slots=True)
class ClipFolder:
    """The folder; it is made with the first clip."""

    path: Path

    @classmethod
    def beside(cls, logbook: Path) -> ClipFolder:
        """Return the folder of a logbook."""
        return cls(logbook.with_name(f"{logbook.name}-clips"))

    def file(self, name: str) -> Path | None:
        """Return the path of a clip, or None when the name is none of ours, or what bears it is no plain file here."""
        if not _NAME.fullmatch(name):
            return None
        path = self.path / name
        return path if path.is_file() and not path.is_symlink() and not self.path.is_symlink() else None

    def used_bytes(self) -> int:
        """Return how many bytes the clips take."""
        if not self.path.is_dir():
            return 0
        return sum(f.stat().st_size for f in self.path.iterdir() if _NAME.fullmatch(f.name) and f.is_file())

    def keep(self, session: int, kind: str, start_s: float, samples: Samples, sample_rate: int) -> tuple[str, int]:
        """Write a clip as FLAC (16 bits) and return its name and size in bytes.

        Raises
        ------
        LogbookError
            When it cannot be written.
        """
        import io

        import soundfile

        sound = io.BytesIO()
        soundfile.write(sound, samples, sample_rate, format="FLAC", subtype="PCM_16")
        return self.put(session, kind, start_s, sound.getvalue())

    def put(self, session: int, kind: str, start_s: float, content: bytes) -> tuple[str, int]:
        """Write a FLAC file's content as a clip and return its name and size in bytes; raises as ``keep``."""
        plain_kind = re.sub(r"[^a-z]", "", kind)[:20] or "sound"
        name = f"{session:05d}-{max(0, round(start_s)):06d}s-{plain_kind}.flac"
        try:
            self.path.mkdir(mode=0o700, parents=True, exist_ok=True)
            for again in range(2, 100):
                try:
                    handle = os.open(self.path / name, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
                    break
                except FileExistsError:
                    name = f"{session:05d}-{max(0, round(start_s)):06d}s-{plain_kind}-{again}.flac"
            else:
                raise LogbookError(f"clip {name} is there a hundred times: delete some with 'hushweir log clips'")
            with os.fdopen(handle, "wb") as file:
                file.write(content)
        except OSError as error:
            raise LogbookError(
                f"clip {self.path / name} cannot be written ({error.strerror}): the logbook goes on without clips"
            ) from error
        return name, len(content)

    def delete(self, name: str) -> bool:
        """Delete a clip; False when there was none of this name.

        Raises
        ------
        LogbookError
            When it cannot be deleted.
        """
        path = self.file(name)
        if path is None:
            return False
        try:
            path.unlink()
        except OSError as error:
            raise LogbookError(f"clip {path} cannot be deleted ({error.strerror}): check its rights") from error
        return True
