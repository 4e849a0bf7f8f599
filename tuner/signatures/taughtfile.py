"""The file of what was taught: a small JSON beside the rig's own file, numbers by the names of their features.

``my-rig.toml`` has ``my-rig.taught.json``. It is written whole or not at all, and a file that this program cannot
understand is left as it was found.
"""

from __future__ import annotations

import json
import math
import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from tuner.errors import ConfigError
from tuner.signatures.taught import PARTS, Part, Taught, Templates, Vector

SCHEMA = 1
_ABOUT = (
    "what the quiet, the slurp and the gurgle of this rig are like: for every stretch of five seconds the middle and"
    " the spread of named features. No audio is in it, nor can speech be rebuilt from it"
)
_DIGITS = 5
_FIX = "'hushweir teach --forget' deletes the file, then teach again"


@dataclass(frozen=True, slots=True)
class Notebook:
    """What the file holds: the templates, and how far the siphon's valve stands from where the teaching found it.

    ``valve_away`` is in the valve's own unit, + further open; other than 0 only where a teaching was left half-way.
    """

    templates: Templates
    valve_away: float = 0.0


def taught_path(rig_path: str | Path) -> Path:
    """Return where a rig's templates lie.

    >>> taught_path("tanks/my-rig.toml").as_posix()
    'tanks/my-rig.taught.json'
    """
    path = Path(rig_path)
    return path.with_name(f"{path.stem}.taught.json")


def load_templates(rig_path: str | Path) -> Templates | None:
    """Return the templates of the rig described in ``rig_path``; None when nothing usable was taught yet.

    Raises
    ------
    ConfigError
        When the templates' file is damaged, newer than this version, or cannot be read.
    """
    notebook = load_notebook(taught_path(rig_path))
    return notebook.templates if notebook is not None and notebook.templates.usable else None


def load_notebook(path: Path) -> Notebook | None:
    """Read a file of templates; None when there is none.

    Raises
    ------
    ConfigError
        As ``load_templates``.
    """
    try:
        table = json.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return None
    except (OSError, ValueError) as error:
        raise ConfigError(f"templates {path} cannot be read ({error}): {_FIX}") from None
    schema = table.get("schema") if isinstance(table, dict) else None
    if isinstance(schema, int) and schema > SCHEMA:
        raise ConfigError(
            f"templates {path} were written by a newer hushweir (form {schema}; this one knows {SCHEMA}):"
            " update hushweir"
        )
    if schema != SCHEMA:
        raise ConfigError(f"templates {path}: schema={schema!r} must be {SCHEMA}: {_FIX}")
    try:
        return _notebook(table)
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise ConfigError(f"templates {path} are damaged ({error}): {_FIX}") from None


def _notebook(table: dict[str, Any]) -> Notebook:
    features = tuple(str(name) for name in table["features"])
    parts: dict[Taught, Part] = {}
    made: dict[Taught, str] = {}
    for name in PARTS:
        if name in table["parts"]:
            entry = table["parts"][name]
            parts[name] = _part(name, entry, len(features))
            made[name] = str(entry["made"])
    away = float(table.get("valve_away", 0.0))
    rate = int(table["sample_rate_hz"])
    if not math.isfinite(away) or rate <= 0 or len(set(features)) != len(features):
        raise ValueError("valve_away, sample_rate_hz or features are impossible")
    return Notebook(Templates(features, parts, str(table["device"]), rate, made), away)


def _part(name: str, entry: dict[str, Any], n_features: int) -> Part:
    middle, spread = (np.array(entry[key], dtype=np.float64) for key in ("middle", "spread"))
    looks = tuple(int(n) for n in entry["looks"])
    if middle.shape != (len(looks), n_features) or spread.shape != middle.shape or not looks or min(looks) < 1:
        raise ValueError(f"{name} has another number of values than of features and stretches")
    if not (np.all(np.isfinite(middle)) and np.all(np.isfinite(spread)) and np.all(spread >= 0.0)):
        raise ValueError(f"{name} holds values that are no numbers")
    return Part(middle, spread, looks)


def save_notebook(notebook: Notebook, path: Path) -> None:
    """Write a file of templates, whole or not at all.

    Raises
    ------
    ConfigError
        When it cannot be written.
    """
    templates = notebook.templates
    table = {
        "schema": SCHEMA, "about": _ABOUT, "device": templates.device, "sample_rate_hz": templates.sample_rate,
        "valve_away": notebook.valve_away, "features": list(templates.features),
        "parts": {
            name: {
                "made": templates.made.get(name, ""), "looks": list(part.looks), "middle": _rounded(part.middle),
                "spread": _rounded(part.spread),
            }
            for name, part in templates.parts.items()
        },
    }
    beside = path.with_name(f"{path.name}.new")
    try:
        beside.write_text(json.dumps(table) + "\n", encoding="utf-8")
        os.replace(beside, path)
    except OSError as error:
        raise ConfigError(
            f"templates {path} cannot be written ({error.strerror}): allow writing in that folder"
        ) from error


def _rounded(values: Vector) -> list[list[float]]:
    return [[float(f"{v:.{_DIGITS}g}") for v in row] for row in values]
