"""A picture of a page: the drawing with its title, caption and text alternative."""

from __future__ import annotations

from dataclasses import dataclass

from tuner.report.svg import fit_for_page


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing as an element of the page.

    ``caption`` is read by everybody, ``alternative`` in place of the drawing; ``side`` is "before", "after" or "" where
    the picture belongs to neither alone.
    """

    title: str
    svg: str
    caption: str
    alternative: str
    side: str = ""


def picture(name: str, svg: str, title: str, caption: str, alternative: str, side: str = "") -> Picture:
    """Return a drawing made fit for the page; ``name`` is unique on it."""
    whole = f"{title}, {side}" if side else title
    return Picture(title, fit_for_page(svg, name, whole, alternative), caption, alternative, side)


def unit_of(calibrated: bool) -> str:
    """Return what levels are relative to, as an axis says it."""
    return "dB re 20 µPa" if calibrated else "dB re full scale"
