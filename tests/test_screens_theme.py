"""The themes can be read: WCAG 2.2 contrast of every pair that is drawn, and shades that grow."""

from __future__ import annotations

from itertools import pairwise

import pytest

from tuner.screens.theme import DIM_SHARE, LEAST_CONTRAST, THEMES, Theme, contrast, luminance, mixed, theme_for

PAIRS = [
    pytest.param(theme, ink, behind, id=f"{theme.name}: {name}")
    for theme in THEMES for name, ink, behind in theme.pairs()
]


@pytest.mark.parametrize(("theme", "ink", "behind"), PAIRS)
def test_text_has_the_contrast_that_wcag_asks_for(theme: Theme, ink: str, behind: str) -> None:
    assert contrast(ink, behind) >= LEAST_CONTRAST, theme.name


def test_the_least_contrast_is_that_of_the_criterion() -> None:
    assert LEAST_CONTRAST == 4.5  # WCAG 2.2, success criterion 1.4.3, level AA, text of usual size


# Ratios from the formula of WCAG 2.2, "relative luminance" and "contrast ratio"; #767676 on white is the grey that is
# commonly named as the lightest that passes 4.5:1 (from memory).
@pytest.mark.parametrize(("one", "other", "ratio"), [
    ("#000000", "#ffffff", 21.0), ("#ffffff", "#000000", 21.0), ("#123456", "#123456", 1.0),
    ("#767676", "#ffffff", 4.54), ("#ff0000", "#ffffff", 4.0),
])
def test_contrast_by_hand(one: str, other: str, ratio: float) -> None:
    assert contrast(one, other) == pytest.approx(ratio, abs=0.005)


def test_the_luminance_of_a_dark_grey_lies_on_the_straight_part() -> None:
    assert luminance("#0a0a0a") == pytest.approx(10 / 255 / 12.92)  # below 0.04045 the curve is a line


def test_dim_text_is_mixed_as_the_screen_mixes_it() -> None:
    from textual.constants import DIM_FACTOR

    assert DIM_SHARE == DIM_FACTOR


def test_every_ink_is_among_the_pairs() -> None:
    for theme in THEMES:
        drawn = {ink for _, ink, _ in theme.pairs()}
        assert set(theme.inks) <= drawn


@pytest.mark.parametrize("theme", THEMES)
def test_shades_begin_with_the_page_and_grow_away_from_it(theme: Theme) -> None:
    assert theme.shades[0] == theme.ground
    steps = [contrast(shade, theme.ground) for shade in theme.shades]
    assert all(louder > quieter * 1.1 for quieter, louder in pairwise(steps))
    assert steps[-1] > 10.0


def test_colours_mix() -> None:
    assert mixed("#000000", "#ffffff", 0.0) == "#000000"
    assert mixed("#000000", "#ffffff", 1.0) == "#ffffff"


@pytest.mark.parametrize(("wish", "background", "dark"), [
    ("auto", "15;0", True), ("auto", "0;15", False), ("auto", "12;7", False), ("auto", "nonsense", True),
    ("light", "15;0", False), ("dark", "0;15", True),
])
def test_the_theme_follows_the_wish_then_the_terminal(wish: str, background: str, dark: bool) -> None:
    assert theme_for(wish, background).dark is dark
