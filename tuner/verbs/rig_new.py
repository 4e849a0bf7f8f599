"""``hushweir rig new``: a short interview that writes a rig file, answer by answer."""

from __future__ import annotations

import argparse
import os
import re
import threading
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from rich.text import Text

from tuner.errors import ConfigError
from tuner.rig import Pump, Rig, value_text, walk
from tuner.rigdraft import is_finished, rig_of_draft, state_of, table_of, with_answer
from tuner.rigfile import UNKNOWN
from tuner.screens import panels
from tuner.screens.lines import canvas_of
from tuner.screens.tapes import tape_drawing
from tuner.units import ANGLE, FLOW, LENGTH, SHARE, TIME, VOLUME, parse_quantity
from tuner.verbs.desk import INTERRUPTED, Desk
from tuner.verbs.rig_questions import COMMON, GROUPS, Ask, Group

if TYPE_CHECKING:
    from tuner.verbs.rig_effects import Outlook

_US_NOTE, _METRIC_NOTE = "# bare numbers: inches, gallons, gph", "# bare numbers: mm, litres, L/h"
_HEAD = """\
# The installation, for hushweir: written by 'hushweir rig new'. A line that begins with '#' is an assumption: take
# the '#' away and put your own figure once it is measured. Check with 'hushweir rig check', see 'hushweir flow'.
"""
_KEYS = "Enter: I do not know   ?: more   back: last question   done: leave the rest"
_NOT_KNOWN = ("don't know", "dont know", "don\u2019t know", "not known", "unknown", "no idea", "dk", "-")
_BARE = {False: {"length": "mm", "volume": "L", "flow": "L/h", "time": "s"},
         True: {"length": "in", "volume": "gal", "flow": "gph", "time": "s"}}
_NUMBER = re.compile(r"[-+]?(\d+\s+)?\d+(/\d+|[.,]\d+)?")
Way = Literal["on", "back", "done"]


class _Left(Exception):
    """The input has ended."""


@dataclass(frozen=True, slots=True)
class _Draft:
    path: Path
    text: str
    us: bool

    def save(self) -> None:
        part = self.path.with_name(self.path.name + ".part")
        try:
            part.write_text(self.text, encoding="utf-8")
            os.replace(part, self.path)
        except OSError as error:
            raise ConfigError(
                f"rig file {self.path} cannot be written ({error.strerror}): choose another place"
            ) from None


def run(args: argparse.Namespace, desk: Desk) -> int:
    """Carry out the verb; what was answered stays in the file, however the interview ends."""
    draft: _Draft | None = None
    interview = Interview(desk)
    code = 0
    try:
        draft = interview.opened(args.file, force=args.force, us=args.us)
        if draft is None:
            return 0
        interview.hold(draft)
    except KeyboardInterrupt:
        desk.tell("")
        code = INTERRUPTED
    except _Left:
        desk.tell("")
    interview.close(args.file)
    return code


class Interview:
    """Asks, checks, and writes each answer at once."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._canvas = canvas_of(desk.console)
        self._draft: _Draft | None = None
        self._again = False
        self._drawn: list[str] = []
        self._returned: set[Ask] = set()  # questions that are asked once more
        self._outlook: Outlook | None = None  # what the draft comes to, once it was computed

    def opened(self, path: Path, *, force: bool, us: bool) -> _Draft | None:
        """Return the draft to go on with; None when the keeper would rather leave a file alone."""
        text = ""
        if path.exists() and not force:
            try:
                text = path.read_text(encoding="utf-8")
            except (OSError, UnicodeDecodeError):
                raise ConfigError(f"file={str(path)!r} must be a text file: name another, or use --force") from None
            rig_of_draft(text, str(path))
            left = sum(self._is_open(text, ask) for ask in COMMON)
            self._again = left == 0
            offer = f"ask the {left} questions that are open" if left else "ask every question again"
            if not self._yes(f"{path} is there already: {offer}? Its answers stay."):
                self._desk.tell(f"left as it is: {path} ('--force' begins anew)")
                return None
        if _US_NOTE in text or _METRIC_NOTE in text:
            us = _US_NOTE in text
        elif not us:
            answer = self._read("Do you measure in mm or in inches? [mm] ").lower()
            us = answer.startswith(("i", "u", '"'))
        note = _US_NOTE if us else _METRIC_NOTE
        return _Draft(path, text or f"{_HEAD}{note}\n", us)

    def hold(self, draft: _Draft) -> None:
        """Ask group by group until the end, or until the keeper has enough."""
        self._draft = draft
        if self._desk.keys.isatty():
            # The hydraulics take a second to load: they do it while the first question is read.
            threading.Thread(target=import_module, args=("tuner.verbs.rig_effects",), daemon=True).start()
        self._desk.tell(_KEYS)
        is_first = True
        for group in GROUPS:
            if not any(self._is_asked(ask) for ask in group.asks):
                continue
            if group.seldom:
                if not self._yes(f"\nIs there {group.name}?", usual="no"):
                    continue
            elif not is_first and not self._yes(f"\nGo on with {group.name}{f' ({group.why})' if group.why else ''}?"):
                return
            is_first = False
            if not self._group(group):
                return

    def close(self, path: Path) -> None:
        """Say what is in the file, and how to go on."""
        if self._draft is None or not path.exists():
            self._desk.tell("nothing was answered, nothing is written")
            return
        text = self._draft.text
        states = [state_of(text, ask.section, ask.key) for ask in COMMON if not (ask.gate_only and _has_ball(text))]
        self._desk.tell(
            f"kept     {path}: {states.count('answered')} answered, {states.count('not known')} not known,"
            f" {states.count('open')} not asked"
        )
        if is_finished(text):
            self._desk.tell(f"next     hushweir rig check {path}, then: hushweir flow {path}")
        if states.count("open"):
            self._desk.tell(f"go on    hushweir rig new {path}")

    def _group(self, group: Group) -> bool:
        """Ask a group's questions; False when the keeper has enough."""
        asks = list(group.asks)
        self._desk.tell(f"\n{group.name}" + (f": {group.why}" if group.why else ""))
        answered: list[Ask] = []
        while asks:
            ask = asks.pop(0)
            if not (self._is_asked(ask) or ask in self._returned):
                continue
            left = sum(self._is_asked(a) or a in self._returned for a in asks)
            way = self._ask(ask, f"{len(answered) + 1}/{len(answered) + 1 + left}")
            if way == "done":
                return False
            if way == "back":
                asks.insert(0, ask)
                if answered:
                    self._returned.add(answered[-1])
                    asks.insert(0, answered.pop())
                continue
            answered.append(ask)
        return True

    def _is_open(self, text: str, ask: Ask) -> bool:
        return state_of(text, ask.section, ask.key) == "open" and not (ask.gate_only and _has_ball(text))

    def _is_asked(self, ask: Ask) -> bool:
        assert self._draft is not None
        if ask.gate_only and _has_ball(self._draft.text):
            return False
        return self._again or self._is_open(self._draft.text, ask)

    def _ask(self, ask: Ask, place: str) -> Way:
        self._draw(ask)
        while True:
            answer = self._read(f"{place}  {ask.text} [{self._usual(ask)}] ")
            low = answer.lower().rstrip(".! ")
            before = self._draft
            if low == "?":
                for line in panels.wrapped("", self._more(ask), self._canvas):
                    self._desk.console.print(line)
            elif low in ("back", "done", "quit", "q"):
                return "back" if low == "back" else "done"
            elif self._take(ask, "" if low in _NOT_KNOWN else answer, forget=low in _NOT_KNOWN):
                self._tell_effect(ask, before)
                return "on"

    def _tell_effect(self, ask: Ask, before: _Draft | None) -> None:
        """Say what the answer has changed, or what it costs not to know; only to a person, who has the time for it."""
        draft = self._draft
        if not self._desk.keys.isatty() or draft is None or before is None or not ask.section or draft == before:
            return
        from tuner.verbs.rig_effects import changes, cost_of_not_knowing, lines_of, outlook_of

        rig = rig_of_draft(draft.text, str(draft.path))
        if self._outlook is None:
            self._outlook = outlook_of(rig_of_draft(before.text, str(before.path)), us=draft.us)
        after = outlook_of(rig, us=draft.us)
        lines = lines_of(changes(self._outlook.figures, after.figures), "->" if self._canvas.ascii_only else "→")
        self._outlook = after
        if state_of(draft.text, ask.section, ask.key) == "not known":
            taken = f"not known: taken as {self._usual(ask).rstrip('?')}"
            lines.append(cost_of_not_knowing(rig, ask.dotted, after, us=draft.us) if ask.measure is not None else taken)
        for number, words in enumerate(lines or ["no figure yet: it counts together with answers to come"]):
            for line in panels.wrapped("changes" if number == 0 else "", words, self._canvas):
                self._desk.console.print(line)

    def _draw(self, ask: Ask) -> None:
        field = f"{ask.section}.{ask.key}"
        if field == "siphon.valve.setting" and self._draft is not None and _has_ball(self._draft.text):
            field += ", ball"
        drawing = tape_drawing(field, ascii_only=self._canvas.ascii_only)
        shown = [line.plain for line in drawing[:-1]]
        if drawing and shown == self._drawn:  # the same picture: its last line says which letter
            drawing = drawing[-1:]
        elif drawing:
            self._drawn = shown
        self._desk.tell("")
        for line in drawing:
            self._desk.console.print(line)

    def _more(self, ask: Ask) -> str:
        measure = ask.measure
        example = f" For example {measure.dimension.example}." if measure is not None and not ask.choices else ""
        how = measure.how if measure is not None else ask.text
        return f"{how[0].upper()}{how[1:]}.{example} {ask.more}".rstrip()

    def _usual(self, ask: Ask) -> str:
        """Return what Enter stands for: the answer that is there, or what will be assumed."""
        assert self._draft is not None
        if not ask.section:
            return "my tank"
        rig = rig_of_draft(self._draft.text, str(self._draft.path))
        value = getattr(dict(walk(rig)).get(ask.section, Pump()), ask.field)
        if value is None:
            return "none known"
        is_known = state_of(self._draft.text, ask.section, ask.key) == "answered"
        return f"{_shown(ask, value, rig, self._draft.us)}{'' if is_known else '?'}"

    def _take(self, ask: Ask, answer: str, *, forget: bool = False) -> bool:
        """Write an answer; False when it cannot be, after saying why. ``forget`` takes back one that is there."""
        draft = self._draft
        assert draft is not None
        if not answer:
            if not forget and state_of(draft.text, ask.section, ask.key) == "answered":
                return True
            self._draft = _Draft(draft.path, self._unknown(ask), draft.us)
        else:
            try:
                value = _toml(ask, answer, draft)
                text = with_answer(draft.text, ask.section, ask.key, value, ask.text if ask.section else "")
                rig_of_draft(text, str(draft.path))
            except ConfigError as error:
                if not self._desk.keys.isatty():
                    raise
                self._desk.tell(f"     {error}")
                return False
            self._draft = _Draft(draft.path, text, draft.us)
        self._draft.save()
        return True

    def _unknown(self, ask: Ask) -> str:
        draft = self._draft
        assert draft is not None
        if ask.is_required:
            return with_answer(draft.text, ask.section, ask.key, f'"{UNKNOWN}"', f"not known: {ask.text}")
        usual = "my tank" if not ask.section else self._usual(ask).rstrip("?")
        value = "..." if usual == "none known" else _quoted(usual)
        if not ask.section:
            return with_answer(draft.text, "", ask.key, value, "")
        word = "not known" if value == "..." else "assumed"
        return with_answer(draft.text, ask.section, ask.key, value, f"{word}: {ask.text}", known=False)

    def _yes(self, question: str, usual: str = "yes") -> bool:
        answer = self._read(f"{question} [{usual}] ").lower() or usual
        return not answer.startswith(("n", "done", "q"))

    def _read(self, prompt: str) -> str:
        console = self._desk.console
        console.print(Text(prompt), end="", soft_wrap=True)
        console.file.flush()
        line = self._desk.keys.readline()
        if not line:
            raise _Left
        if not self._desk.keys.isatty():
            console.print(Text(line.strip()))
        return line.strip()


def _has_ball(text: str) -> bool:
    table = table_of(text, "").get("siphon", {})
    valve = table.get("valve", {}) if isinstance(table, dict) else {}
    return isinstance(valve, dict) and valve.get("kind") == "ball"


def _shown(ask: Ask, value: object, rig: Rig, us: bool) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value
    assert isinstance(value, (int, float))
    if ask.field == "temperature_c":
        return f"{value * 1.8 + 32:g} F" if us else f"{value:g} C"
    if ask.dotted == "siphon.valve.setting":
        return f"{value:g} {'turns' if rig.siphon.valve.kind == 'gate' else 'degrees'}"
    measure = ask.measure
    assert measure is not None
    return value_text(value, measure, us=us)


def _quoted(value: str) -> str:
    if value in ("yes", "no"):
        return "true" if value == "yes" else "false"
    escaped = value.replace("\\", "\\\\").replace('"', '\\"')
    return value if re.fullmatch(r"-?\d+(\.\d+)?", value) else f'"{escaped}"'


def _toml(ask: Ask, answer: str, draft: _Draft) -> str:
    """Return an answer as it stands in the file; a bare number gets the unit that was agreed on."""
    if ask.choices:
        found = [choice for choice in ask.choices if choice.startswith(answer.lower())]
        if len(found) != 1:
            raise ConfigError(f"{ask.key}={answer!r} must be {' or '.join(ask.choices)}")
        return _quoted(found[0])
    if not ask.section:
        return _quoted(answer)
    measure, is_bare = ask.measure, _NUMBER.fullmatch(answer) is not None
    if ask.field == "temperature_c":
        return _quoted(f"{answer} {'F' if draft.us else 'C'}" if is_bare else answer)
    assert measure is not None
    if is_bare and measure.dimension.name in (LENGTH.name, FLOW.name, VOLUME.name, TIME.name):
        answer = f"{answer} {_BARE[draft.us][measure.dimension.name]}"
    elif is_bare and measure.dimension.name == "share" and measure.highest <= 1 and _is_percent(answer):
        answer = f"{answer} %"
    dimension = ANGLE if ask.dotted == "siphon.valve.setting" and _has_ball(draft.text) else measure.dimension
    parse_quantity(answer, dimension, field=f"{ask.section}.{ask.key}")
    return _quoted(answer)


def _is_percent(answer: str) -> bool:
    """Tell whether a bare number for a share means percent: all but the figures between nothing and one."""
    return not 0 < parse_quantity(answer, SHARE, field="share") < 1
