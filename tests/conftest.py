"""Every run of the tests draws the same examples, so that what fails once fails again."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("same each time", derandomize=True)
settings.load_profile("same each time")
