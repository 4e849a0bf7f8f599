"""Printed pages: the greeting and the flow page."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

from tests.pictures.drawing import page_svg
from tuner.screens.welcomepage import Known, Named, WelcomePage, When


def pictures(_scratch: Path) -> Iterator[tuple[str, str]]:
    """Give each picture's name and its SVG."""
    known = Known(
        rig=Named("my-rig.toml", "Kelpie", finished=True, asked=20, questions=50, assumed=31),
        microphone=When(datetime(2026, 3, 1, tzinfo=UTC), True, "Desk microphone"), sessions=1,
    )
    yield "welcome", page_svg(WelcomePage(known), "welcome", title="hushweir")
