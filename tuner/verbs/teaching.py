"""The guided teaching: the quiet, the slurp edge and the gurgle edge of one rig, each for half a minute.

It may be left at any moment: every part is kept as soon as it is learnt, and so is how far the valve stands from where
it was found.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from tuner.coach.lesson import ROAR_STOPS, Lesson
from tuner.logbook.entry import Entry
from tuner.screens.letters import BigWords
from tuner.screens.words import done_text, duration_text, move_banner, move_text
from tuner.signatures.ears import looks_of
from tuner.signatures.learning import Learnt, learn, with_part
from tuner.signatures.listener import Listener
from tuner.signatures.model import SignatureModel, load_model
from tuner.signatures.taught import Taught, distinct
from tuner.signatures.taughtfile import Notebook
from tuner.terms import Block, Question, Reading, Samples, Step
from tuner.units import amount_text
from tuner.verbs.desk import Desk
from tuner.verbs.ears import Ears
from tuner.verbs.keeper import Answer, Asked, Did, Keeper, Looked

PART_S = 30.0
PROBE_S: dict[Taught, float] = {"quiet": 15.0, "slurp": 30.0, "gurgle": 15.0}  # a slurp comes and goes
MOST_PARTS = 4  # half minutes that a slurp with long pauses is listened to
MOST_TRIES = 3
UNLIKE_QUIET = 0.3  # of a probe, from which the keeper is asked what it is
_ROAR_MOMENTS = 4  # two seconds
_GO: dict[Taught, str] = {
    "quiet": "leave everything as it is tuned, pumps on; nobody talks for half a minute",
    "slurp": "the siphon is opened a little at a time until it gulps",
    "gurgle": "the siphon is closed a little at a time until the open channel gurgles; the emergency pipe is watched",
}


@dataclass(frozen=True, slots=True)
class Classroom:
    """What is taught with: ears and keeper, the log's entry, and where notes are kept (None: nowhere)."""

    ears: Ears
    keeper: Keeper
    desk: Desk
    entry: Entry
    sample_rate: int
    device: str
    keep: Callable[[Notebook], None] | None
    day: str
    insist: bool


class Teaching:
    """One run of the lesson over the parts that are wanted."""

    def __init__(self, room: Classroom, lesson: Lesson, notebook: Notebook | None) -> None:
        self._room = room
        self._lesson = lesson
        self._model: SignatureModel = load_model()
        self._listener = Listener(room.sample_rate)
        self._roar: deque[float] = deque(maxlen=_ROAR_MOMENTS)
        self._now_s = 0.0
        self.notebook = notebook

    @property
    def _left(self) -> bool:
        return self._room.keeper.has_quit

    def run(self, parts: tuple[Taught, ...]) -> tuple[Taught, ...]:
        """Teach the parts in turn and return those that were learnt."""
        done: list[Taught] = []
        self._back()
        for part in parts:
            if self._left:
                break
            self._tell("part", f"{part}: {_GO[part]}")
            known = self.notebook.templates if self.notebook else None
            if part != "quiet" and (known is None or "quiet" not in known.parts):
                self._tell("missing", f"the quiet, which a {part} is told from: teach it first")
                continue
            learnt = self._capture("quiet") if part == "quiet" else self._edge(part)
            if learnt:
                done.append(part)
        return tuple(done)

    def _edge(self, part: Taught) -> bool:
        """Bring an edge on, learn it and go back; True when it was learnt."""
        self._lesson.begin()
        learnt = False
        if self._seek(part):
            learnt = self._capture(part)
        elif self._lesson.ending and not self._left:
            self._tell("stopped", f"{self._lesson.ending}: the {part} is left untaught")
        self._back()
        return learnt

    def _seek(self, part: Taught) -> bool:
        """Turn the valve little by little until the sound is there; False when it is not to be had."""
        while True:
            reading, samples = self._listen(PROBE_S[part])
            if reading is None or self._left:
                return False
            if self._lesson.heard(part, reading) and not self._lesson.emergency:
                return True
            if not self._lesson.emergency and self._unlike_quiet(samples):
                question = Question(
                    "is it there", f"Something is heard that is not the quiet. Is it the {part}?", ("yes", "no")
                )
                answer = self._answer(question)
                if isinstance(answer, Looked) and answer.answer == "yes":
                    return True
                if part == "gurgle":
                    # Another sound while the siphon is closed may be a channel that already carries too much.
                    self._lesson.ending = "another sound came, and the siphon is not closed further under it"
                    return False
            step = self._lesson.towards(part)
            if step is None or not self._turn(step) or self._lesson.roaring:
                return False

    def _unlike_quiet(self, samples: Samples) -> bool:
        assert self.notebook is not None  # an edge is taught after the quiet
        known = self.notebook.templates
        features = np.stack([k.features for k in looks_of(samples, self._room.sample_rate)])
        return float(distinct(features, known.parts["quiet"], known.features, self._model).mean()) >= UNLIKE_QUIET

    def _capture(self, part: Taught) -> bool:
        """Listen to a part for half a minute and keep it; what is no good is said, and asked for again."""
        for _ in range(MOST_TRIES):
            self._tell("listen", f"{part} for {duration_text(PART_S)}")
            learnt = self._hear_part(part)
            if learnt is None:
                return False
            if learnt.part is not None:
                if learnt.doubt:
                    self._tell("doubt", f"{learnt.doubt}; kept, because you insist")
                self._keep(part, learnt)
                return True
            self._tell("no good", learnt.doubt)
            again = Step("siphon valve", 0.0, "turn", 0.0, f"Once more: {_GO[part]}.")
            answer = self._answer(again)
            if not isinstance(answer, Did) or answer.amount == 0.0:
                return False
        self._tell("stopped", f"the {part} is left untaught after {MOST_TRIES} tries")
        return False

    def _hear_part(self, part: Taught) -> Learnt | None:
        """Return what half a minute came to; a slurp with long pauses is given more. None: it was broken off."""
        heard: list[Samples] = []
        learnt: Learnt | None = None
        for _ in range(MOST_PARTS if part == "slurp" else 1):
            reading, samples = self._listen(PART_S)
            if reading is None or self._left:
                return None
            self._lesson.reheard(reading)
            if part != "quiet" and self._lesson.emergency:
                self._tell("stopped", "the emergency pipe may be carrying water")
                return None
            heard.append(samples)
            looks = looks_of(np.concatenate(heard), self._room.sample_rate)
            known = self.notebook.templates if self.notebook else None
            learnt = learn(part, looks, known, self._model, insist=self._room.insist)
            if learnt.part is not None:
                break
        return learnt

    def _keep(self, part: Taught, learnt: Learnt) -> None:
        room = self._room
        assert learnt.part is not None
        known = self.notebook.templates if self.notebook else None
        templates = with_part(
            known, part, learnt.part, device=room.device, sample_rate=room.sample_rate, day=room.day
        )
        self.notebook = Notebook(templates, self._lesson.away)
        self._save()
        self._tell("learnt", learnt_text(part, learnt))
        room.entry.note(f"taught {part}: {learnt.used_s:g} s")

    def _save(self) -> None:
        if self.notebook is not None:
            self.notebook = replace(self.notebook, valve_away=self._lesson.away)
            if self._room.keep is not None:
                self._room.keep(self.notebook)

    def _back(self) -> None:
        """Go back to where the valve was found; where a rule forbids that, listen again and at last say so."""
        waited = 0
        while self._lesson.away and not self._left:
            step = self._lesson.back()
            if step is not None:
                if not self._turn(step):
                    break
                continue
            waited += 1
            reading = self._listen(PROBE_S["quiet"])[0] if waited <= MOST_TRIES and self._lesson.ending else None
            if reading is None:
                break
            self._lesson.reheard(reading)
        if text := self.away_text():
            self._tell("valve", text)

    def away_text(self) -> str:
        """Return how to bring the valve back to where it was found, or ""."""
        away = self._lesson.away
        if abs(away) < 1e-6:
            return ""
        unit = "turn" if self._lesson.unit == "turn" else "degree"
        way, back = ("open", "close") if away > 0 else ("closed", "open")
        amount = amount_text(abs(away), unit)
        return f"the siphon valve stands {amount} further {way} than it was found: {back} it by as much"

    def _turn(self, step: Step) -> bool:
        """Put a turn to the keeper and let the water settle; False when it was not done."""
        move = self._room.entry.advised(step, self._now_s)
        answer = self._answer(step)
        if not isinstance(answer, Did):
            return False
        done = step.amount if answer.amount is None else answer.amount
        self._room.entry.done(move, done, self._now_s)
        if not done:
            self._lesson.ending = "the turn could not be made"
            return False
        self._room.ears.moved(step, done)
        self._lesson.did(done)
        self._save()
        self._tell("done", f"{done_text(step, done)}; the water settles for {duration_text(step.wait_s)}")
        self._begin()
        for block in self._room.ears.settle(step.wait_s):
            if self._roars(block):
                break
            if self._left:
                return False
        return True

    def _begin(self) -> None:
        """Begin to listen anew."""
        self._listener.reset()
        self._roar.clear()

    def _roars(self, block: Block) -> bool:
        """Hear a block and tell whether a roar stands for two seconds while the siphon is closed further."""
        self._pass(block)
        if block.dropped:
            self._listener.gap(block.dropped)
        self._listener.feed(block.samples)
        self._roar.extend(moment.probability["roar"] for moment in self._listener.moments())
        if len(self._roar) < _ROAR_MOMENTS or min(self._roar) < ROAR_STOPS or self._lesson.away >= 0:
            return False
        self._lesson.roared()
        self._tell("STOP", "a roar is heard: the emergency pipe may be carrying water")
        return True

    def _listen(self, seconds: float) -> tuple[Reading | None, Samples]:
        """Hear a stretch; no reading when it was cut short or a roar broke it off."""
        self._begin()
        kept: list[Samples] = []
        for block in self._room.ears.listen(seconds):
            kept.append(block.samples)
            if self._roars(block) or self._left:
                break
        samples = np.concatenate(kept) if kept else np.zeros(0, np.float32)
        if self._lesson.roaring or samples.size < 0.9 * seconds * self._room.sample_rate:
            return None, samples
        self._listener.flush()
        return self._listener.reading(), samples

    def _answer(self, asked: Asked) -> Answer | None:
        """Put something to the keeper and wait for the answer; None when the keeper leaves."""
        keeper, desk = self._room.keeper, self._room.desk
        keys = keeper.ask(asked)
        if isinstance(asked, Step):
            if asked.amount:
                self._tell("move", move_text(asked))
                desk.console.print(BigWords(move_banner(asked), "bold yellow"))
            self._tell("why", asked.why)
        else:
            self._tell("look", asked.text)
            self._tell("answer", ", ".join(f"{n} {choice}" for n, choice in enumerate(asked.choices, 1)))
        if keys:
            self._tell("keys", keys.strip())
        complaint = ""
        while not self._left:
            answer = keeper.answer()
            if answer is not None:
                return answer
            if keeper.complaint != complaint:
                complaint = keeper.complaint
                if complaint:
                    self._tell("!", complaint)
            for block in self._room.ears.idle():
                self._pass(block)
        return None

    def _pass(self, block: Block) -> None:
        self._now_s = block.start_s + block.samples.size / block.sample_rate

    def _tell(self, label: str, words: str) -> None:
        self._room.desk.tell(f"{label:<8} {words}")


def learnt_text(part: Taught, learnt: Learnt) -> str:
    """Return what was learnt of a part, in one line."""
    words = f"{part}: {learnt.used_s:g} s of {learnt.heard_s:g} s"
    if learnt.before is None or learnt.after is None:
        return words
    before, after = 100 * learnt.before, 100 * learnt.after
    return f"{words}; its seconds known rightly: {before:.0f} % before, {after:.0f} % with it"
