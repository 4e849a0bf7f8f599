"""The two themes of the full screens, and how well their text can be read.

Everything that is drawn names its colours by the sixteen common names ("cyan", "bold magenta"). Printed as lines they
are the terminal's own colours; on a full screen a theme says what each stands for, so that text keeps its contrast
in the dark and in the light. "dim" text is the text's colour mixed with the page's.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

LEAST_CONTRAST = 4.5  # WCAG 2.2, success criterion 1.4.3: text of usual size
DIM_SHARE = 0.66  # how much of the text's colour is left in dim text


@dataclass(frozen=True, slots=True)
class Theme:
    """Colours as "#rrggbb": ``ground`` is the page, ``raised`` what lies on it (a dialog, a line of input).

    ``shades`` are the steps of a picture from the quietest, which is the page, to the loudest.
    """

    name: str
    dark: bool
    ground: str
    raised: str
    text: str
    faint: str
    red: str
    green: str
    yellow: str
    blue: str
    magenta: str
    cyan: str
    shades: tuple[str, ...]

    @property
    def inks(self) -> tuple[str, ...]:
        """What the eight common names stand for, black to white; their bright kin are the same."""
        return (self.ground, self.red, self.green, self.yellow, self.blue, self.magenta, self.cyan, self.text)

    def pairs(self) -> Iterator[tuple[str, str, str]]:
        """Give every combination that is drawn: a name, the text's colour, the colour behind it."""
        for below in ("ground", "raised"):
            behind: str = getattr(self, below)
            for name in ("text", "faint", "red", "green", "yellow", "blue", "magenta", "cyan"):
                ink: str = getattr(self, name)
                yield f"{name} on {below}", ink, behind
                yield f"{below} on {name}", behind, ink
            yield f"dim text on {below}", mixed(behind, self.text, DIM_SHARE), behind


DARK = Theme(
    "hushweir-dark", True, ground="#10141a", raised="#1d2530", text="#e8edf2", faint="#9fadba", red="#ff8f85",
    green="#74d68f", yellow="#f2cd60", blue="#8fb8ff", magenta="#f3a3e2", cyan="#63cde4",
    shades=("#10141a", "#1b2a49", "#234a77", "#22718c", "#3f9a83", "#86bd62", "#d6d35a", "#fff6c2"),
)
LIGHT = Theme(
    "hushweir-light", False, ground="#fbfaf6", raised="#ece9df", text="#16181a", faint="#555b62", red="#a31515",
    green="#185c2b", yellow="#6f4800", blue="#1d4796", magenta="#851673", cyan="#005866",
    shades=("#fbfaf6", "#e3e6c4", "#b5d3a8", "#7fb8a0", "#4f95a3", "#3a6a9a", "#443f86", "#3a1257"),
)
THEMES = (DARK, LIGHT)
SIXTEEN_SHADES = ("black", "blue", "magenta", "cyan", "yellow", "bright_white")
Colours = Literal["full", "sixteen", "none"]


@dataclass(frozen=True, slots=True)
class Look:
    """How it is drawn: the theme to begin with, how many colours there are, and whether only ASCII can be shown."""

    theme: Theme = DARK
    colours: Colours = "full"
    ascii_only: bool = False


def rgb(colour: str) -> tuple[int, int, int]:
    """Return red, green and blue (0-255) of "#rrggbb".

    >>> rgb("#10141a")
    (16, 20, 26)
    """
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def mixed(below: str, above: str, share: float) -> str:
    """Return ``above`` laid over ``below`` with ``share`` (0-1) of itself.

    >>> mixed("#000000", "#ffffff", 0.5)
    '#7f7f7f'
    """
    parts = (int(b + (a - b) * share) for b, a in zip(rgb(below), rgb(above), strict=True))
    return "#" + "".join(f"{part:02x}" for part in parts)


def luminance(colour: str) -> float:
    """Return the relative luminance (0-1) of "#rrggbb", as WCAG 2.2 defines it.

    >>> luminance("#ffffff"), luminance("#000000")
    (1.0, 0.0)
    """
    linear = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in (c / 255 for c in rgb(colour))]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio (1-21) of two colours, as WCAG 2.2 defines it.

    >>> round(contrast("#000000", "#ffffff"), 6), round(contrast("#777777", "#ffffff"), 2)
    (21.0, 4.48)
    """
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def theme_for(wish: str, background: str) -> Theme:
    """Return the theme that was wished for ("dark", "light"), or for "auto" the one that the terminal seems to have.

    ``background`` is the terminal's COLORFGBG, "text;page" in numbers of the common colours; "" when there is none.

    >>> theme_for("auto", "0;15").name, theme_for("auto", "").name, theme_for("dark", "0;15").name
    ('hushweir-light', 'hushweir-dark', 'hushweir-dark')
    """
    if wish == "auto":
        return LIGHT if background.rsplit(";", 1)[-1] in ("7", "15") else DARK
    return LIGHT if wish == "light" else DARK
