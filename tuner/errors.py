"""What can go wrong, in one tree.

HushweirError
├── ConfigError    a rig, an option or an argument is not usable (also a ValueError)
│   └── NothingBeforeError    the logbook holds no session that could stand for "before"
├── SourceError    a microphone or a recording cannot be read
└── LogbookError   the logbook cannot be read or written

Texts follow one pattern: ``name=value must be <rule>``, then the likely cause or the fix. The command
line prints the text as one line and exits with code 2.
"""

from __future__ import annotations


class HushweirError(Exception):
    """Base of every error that this program raises on purpose."""


class ConfigError(HushweirError, ValueError):
    """A rig description, an option or an argument breaks a rule."""


class NothingBeforeError(ConfigError):
    """There is no silent session that the one asked for could be compared with."""


class SourceError(HushweirError):
    """A microphone or a recording cannot be opened or read."""


class LogbookError(HushweirError):
    """The logbook cannot be opened, read or written."""
