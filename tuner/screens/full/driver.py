"""Where a full screen is drawn: on standard output.

While a microphone is open, descriptor 2 leads to nowhere (see ``tuner.capture.chatter``), which keeps what C libraries
print off the screen. The drawing must therefore not go through the error stream.
"""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from textual.app import App
    from textual.driver import Driver


def screen_driver() -> type[Driver] | None:
    """Return the driver that draws on standard output, or None where the usual one does (Windows)."""
    if sys.platform == "win32":
        return None
    from textual.drivers.linux_driver import LinuxDriver

    class OutputDriver(LinuxDriver):
        """Draws through a descriptor of its own, which nobody else redirects."""

        def __init__(
            self, app: App[Any], *, debug: bool = False, mouse: bool = True, size: tuple[int, int] | None = None
        ) -> None:
            super().__init__(app, debug=debug, mouse=mouse, size=size)
            assert sys.__stdout__ is not None
            self._output = open(  # noqa: SIM115 - closed with the driver
                os.dup(sys.__stdout__.fileno()), "w", encoding=sys.__stdout__.encoding, errors="replace"
            )
            self._file = self._output

        def close(self) -> None:
            super().close()
            self._output.close()

    return OutputDriver
