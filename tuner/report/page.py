"""The page as HTML: one file that asks the network for nothing and runs no script.

Every text goes through the template's escaping; the drawings are made by ``svg`` and the clips by base64, and these two
alone are put in as they are.
"""

from __future__ import annotations

from base64 import b64encode
from dataclasses import dataclass
from pathlib import Path

from tuner.logbook.plainly import sentence
from tuner.logbook.soundchange import sound_rates
from tuner.plain import plain
from tuner.report import bands, figures, pictures, words
from tuner.report.material import KeptSoundFile, Material
from tuner.saying import clock_text, duration_text
from tuner.water.standing import Standing

_FOLDER = Path(__file__).resolve().parent
_CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True)
class Player:
    """A clip with its words and its address, which holds the sound itself."""

    words: str
    source: str


def page_html(material: Material, stand: Standing | None, threshold: bands.Threshold) -> str:
    """Return the page.

    Parameters
    ----------
    material
        What is told.
    stand
        Where the water of the material's rig stands; None leaves the drawing out.
    threshold
        The threshold of hearing, level (dB re 20 µPa) by frequency (Hz).
    """
    import jinja2

    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(_FOLDER), autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters.update(plain=plain, lines=_lines, upper_first=_upper_first, clock=clock_text,
                               duration=duration_text, move=words.move_words)
    found = material.comparison
    return environment.get_template("page.html.j2").render(
        m=material, c=found, sentence=plain(headline(material)),
        verdict_before=words.verdict_of(material.before) if material.before else None,
        verdict=words.verdict_of(material.after),
        spectrograms=pictures.spectrograms(material), bands=bands.band_pictures(material, threshold),
        timelines=pictures.timelines(material),
        rig=pictures.rig_picture(material.rig, stand) if material.rig is not None and stand is not None else None,
        groups=figures.groups(material, _CONFIDENCE), band_rows=figures.band_rows(found) if found else (),
        players=tuple(_player(clip) for clip in material.clips), cautions=words.CAUTIONS,
        style=(_FOLDER / "page.css").read_text(encoding="utf-8"),
    )


def headline(material: Material) -> str:
    """Return the sentence that the page begins with, without a full stop."""
    if material.comparison is not None:
        return sentence(material.comparison)
    return words.sentence_alone(material.after, sound_rates(material.side, _CONFIDENCE))


def _player(kept: KeptSoundFile) -> Player:
    clip = kept.clip
    said = f"{plain(clip.kind)}, session {clip.session}, {clock_text(clip.start_s)}, {clip.length_s:.1f} s"
    return Player(said, f"data:audio/flac;base64,{b64encode(kept.content).decode('ascii')}")


def _lines(text: str) -> str:
    """Return text of several lines with every line made harmless."""
    return "\n".join(plain(line) for line in text.splitlines())


def _upper_first(text: str) -> str:
    return text[:1].upper() + text[1:]
