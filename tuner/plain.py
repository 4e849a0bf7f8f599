"""Text of unknown origin made harmless to look at: names, notes and what a device calls itself.

A terminal obeys control characters; some invisible characters turn the direction of what is read. Both are shown
as their code in place of being carried out.
"""

from __future__ import annotations

import unicodedata

_HIDDEN = ("Cc", "Cf", "Cs", "Co", "Zl", "Zp")  # controls, invisible marks, halves of characters, breaks of lines
_JOINERS = "\u200c\u200d"  # needed inside words of some scripts, and harmless


def plain(text: str) -> str:
    r"""Return ``text`` in one line, with every character that would act on a terminal shown as its code.

    >>> plain("red \x1b[31m\nnext\u202e")
    'red \\x1b[31m next\\u202e'
    """
    if text.isprintable():
        return text
    return "".join(_shown(character) for character in text)


def _shown(character: str) -> str:
    if character in "\n\t\r":
        return " "
    if character in _JOINERS or unicodedata.category(character) not in _HIDDEN:
        return character
    return character.encode("unicode_escape").decode("ascii")
