from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tuner.capture.chatter import silenced

ROOT = Path(__file__).resolve().parent.parent


def test_c_chatter_is_gone_and_pythons_own_words_stay() -> None:
    script = (
        "import os, sys\n"
        "from tuner.capture.chatter import silenced\n"
        "os.write(2, b'before ')\n"
        "with silenced():\n"
        "    os.write(2, b'chatter ')\n"
        "    print('words', end=' ', file=sys.stderr)\n"
        "os.write(2, b'after')\n"
        "print(' end', end='', file=sys.stderr)\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, cwd=ROOT, check=True)
    assert done.stderr == "before words after end"


def test_the_error_stream_is_restored_after_an_error(capfd: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(ValueError, match="inside"), silenced():
        raise ValueError("inside")
    os.write(2, b"heard again")
    assert capfd.readouterr().err == "heard again"


def test_no_descriptor_is_left_open() -> None:
    lowest_free = os.dup(2)
    os.close(lowest_free)
    for _ in range(3):
        with silenced():
            pass
    again = os.dup(2)
    os.close(again)
    assert again == lowest_free


def test_a_process_without_an_error_stream_goes_on() -> None:
    script = (
        "import os\n"
        "from tuner.capture.chatter import silenced\n"
        "os.close(2)\n"
        "with silenced():\n"
        "    print('done')\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, cwd=ROOT, check=True)
    assert done.stdout == "done\n"
