"""The colours of the page: readable by everybody in both themes, after WCAG 2.2 (1.4.3: 4.5 to 1; 1.4.11: 3 to 1)."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import tuner

STYLE = (Path(tuner.__file__).parent / "report" / "page.css").read_text(encoding="utf-8")
THEMES = re.findall(r":root \{(.*?)\}", STYLE, flags=re.DOTALL)


def colours(block: str) -> dict[str, str]:
    return dict(re.findall(r"--([a-z]+): (#[0-9a-f]{3,6});", block))


def linear(colour: str) -> tuple[float, float, float]:
    digits = colour[1:] if len(colour) == 7 else "".join(2 * c for c in colour[1:])
    red, green, blue = (int(digits[i : i + 2], 16) / 255.0 for i in (0, 2, 4))
    return tuple(c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in (red, green, blue))  # type: ignore[return-value]


def luminance(rgb: tuple[float, float, float]) -> float:
    return 0.2126 * rgb[0] + 0.7152 * rgb[1] + 0.0722 * rgb[2]


def contrast(one: str, other: str) -> float:
    high, low = sorted((luminance(linear(one)), luminance(linear(other))), reverse=True)
    return (high + 0.05) / (low + 0.05)


def seen_by_deuteranopes(colour: str) -> tuple[float, float, float]:
    """After Viénot, Brettel and Mollon 1999, for linear red, green and blue."""
    r, g, b = linear(colour)
    return 0.29275 * r + 0.70725 * g, 0.29275 * r + 0.70725 * g, -0.02234 * r + 0.02234 * g + b


def test_contrast_is_that_of_the_standard() -> None:
    # WCAG: black on white is 21 to 1; #767676 on white is the well-known grey just over 4.5 to 1.
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize("theme", ["light", "dark", "print"])
def test_words_and_lines_stand_out_from_the_paper(theme: str) -> None:
    light, dark, printed = (colours(block) for block in THEMES)
    found = {"light": light, "dark": {**light, **dark}, "print": {**light, **printed}}[theme]
    for name in ("ink", "dim", "before", "after"):
        assert contrast(found[name], found["paper"]) >= 4.5, name
    for name in ("room", "hearing"):
        assert contrast(found[name], found["paper"]) >= 3.0, name


@pytest.mark.parametrize("block", THEMES[:2])
def test_before_and_after_differ_for_those_who_see_no_green(block: str) -> None:
    found = colours(block)
    one, other = (seen_by_deuteranopes(found[name]) for name in ("before", "after"))
    assert sum((a - b) ** 2 for a, b in zip(one, other, strict=True)) ** 0.5 > 0.15
