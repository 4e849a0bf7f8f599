"""Where the program's own data lies: beside the package in a checkout, inside it in an installed wheel."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


def shared_dir(name: str) -> Path:
    """Return the folder ``models`` or ``sample_audio``.

    Raises
    ------
    FileNotFoundError
        When neither an installed copy nor a checkout holds the folder.
    """
    for candidate in (_PACKAGE / "_share" / name, _PACKAGE.parent / name):
        if candidate.is_dir():
            return candidate
    raise FileNotFoundError(f"the folder {name}/ is missing from this installation: install hushweir again")
