"""Which microphones there are, and which one is meant.

Every function takes the sounddevice module as ``library``; ``load_sounddevice`` imports it, late, because
importing it starts PortAudio. The list of devices is the one PortAudio made when it started; ``rescan`` has it
made again, and must not be called while a stream is open.
"""

from __future__ import annotations

import contextlib
import sys
from dataclasses import dataclass
from typing import Any

from tuner.capture.chatter import silenced
from tuner.errors import SourceError

_INSTALL = {
    "linux": "apt-get install libportaudio2 (Debian, Ubuntu) or dnf install portaudio (Fedora)",
    "darwin": "pip install --force-reinstall sounddevice (its macOS wheel carries the library)",
    "win32": "pip install --force-reinstall sounddevice (its Windows wheel carries the library)",
}
_LOOK = {
    "linux": "plug one in, and see with 'pactl list short sources' or 'arecord -l' whether the system has it",
    "darwin": "plug one in, and allow this terminal under System Settings, Privacy & Security, Microphone",
    "win32": "plug one in, and allow desktop apps under Settings, Privacy, Microphone",
}


@dataclass(frozen=True, slots=True)
class InputDevice:
    """A microphone as the system lists it; ``index`` may change whenever something is plugged in or out."""

    index: int
    name: str
    host_api: str
    channels: int
    default_rate_hz: int
    is_default: bool


def load_sounddevice() -> Any:
    """Import and return sounddevice.

    Raises
    ------
    SourceError
        When PortAudio is missing or cannot start, with what to install.
    """
    try:
        with silenced():
            import sounddevice
    except ImportError as error:
        raise SourceError("the Python package sounddevice is missing: pip install sounddevice") from error
    except OSError as error:
        fix = _INSTALL.get(sys.platform, "install PortAudio with the system's package manager")
        raise SourceError(f"the library PortAudio is missing, so no microphone can be heard: {fix}") from error
    except Exception as error:  # its own error class is out of reach while its import fails
        raise SourceError(f"the sound system cannot be started ({error}): restart it, or the computer") from error
    return sounddevice


def rescan(library: Any) -> None:
    """Have PortAudio look for devices again; no stream may be open.

    Raises
    ------
    SourceError
        When PortAudio does not start again.
    """
    # sounddevice offers no public way to do this; the pair is the one that its own start and end use.
    try:
        with silenced():
            with contextlib.suppress(library.PortAudioError):  # it is ended already when its last start failed
                library._terminate()
            library._initialize()
    except library.PortAudioError as error:
        raise SourceError(f"the sound system cannot be started again ({_reason(error)}): restart it") from error


def list_inputs(library: Any) -> tuple[InputDevice, ...]:
    """Return every device with an input channel, in the system's order; empty when there is none.

    When the list is empty the devices are looked for once more, for one that was plugged in since.
    """
    found = _inputs(library)
    if not found:
        rescan(library)
        found = _inputs(library)
    return found


def choose_input(wanted: str | int | None, library: Any) -> InputDevice:
    """Return the microphone that is meant.

    Parameters
    ----------
    wanted
        None for the system's default; an index; or a name, whole or in part, in any case of letters. A name
        of digits alone is taken as an index where no device is called so.
    library
        The sounddevice module.

    Raises
    ------
    SourceError
        When there is no microphone, none that fits (with the names that exist), or several that fit.
    """
    inputs = list_inputs(library)
    if not inputs:
        raise SourceError(f"no microphone was found: {_LOOK.get(sys.platform, 'plug one in')}")
    if wanted is None:
        return next((device for device in inputs if device.is_default), inputs[0])
    if isinstance(wanted, str):
        named = _named(wanted, inputs)
        if named is not None:
            return named
    if isinstance(wanted, int) or wanted.strip().isdigit():
        numbered = next((device for device in inputs if device.index == int(wanted)), None)
        if numbered is not None:
            return numbered
    raise SourceError(f"microphone={wanted!r} must be one that exists: {_listed(inputs)}")


def find_again(device: InputDevice, library: Any) -> InputDevice | None:
    """Return the device of the same name and host API, which may have moved to another index, or None."""
    same = [d for d in _inputs(library) if (d.name, d.host_api) == (device.name, device.host_api)]
    return next((d for d in same if d.index == device.index), same[0] if same else None)


def refusal(device: InputDevice, sample_rate: int, error: Exception) -> SourceError:
    """Return the error that tells, in one line, why ``device`` could not be opened."""
    reason = _reason(error)
    if "sample rate" in reason.lower():
        return SourceError(
            f"microphone {device.name!r}: sample_rate={sample_rate} must be a rate that it offers: "
            f"leave it out, or try {device.default_rate_hz}"
        )
    if "unavailable" in reason.lower():
        return SourceError(
            f"microphone {device.name!r} is not available ({reason}): it was unplugged, or another program "
            "holds it; close that program"
        )
    return SourceError(f"microphone {device.name!r} cannot be opened ({reason}): plug it in again, or choose another")


def _inputs(library: Any) -> tuple[InputDevice, ...]:
    try:
        with silenced():
            devices = list(library.query_devices())
            host_apis = [api["name"] for api in library.query_hostapis()]
            default = int(library.default.device[0])
    except library.PortAudioError as error:
        raise SourceError(f"the microphones cannot be listed ({_reason(error)}): restart the sound system") from error
    return tuple(
        InputDevice(
            index=index,
            name=str(device["name"]),
            host_api=str(host_apis[device["hostapi"]]),
            channels=int(device["max_input_channels"]),
            default_rate_hz=round(device["default_samplerate"]),
            is_default=index == default,
        )
        for index, device in enumerate(devices)
        if device["max_input_channels"] > 0
    )


def _named(wanted: str, inputs: tuple[InputDevice, ...]) -> InputDevice | None:
    """Return the device with this name, or with this part of a name, or None; refuse two that differ."""
    sought = wanted.strip().casefold()
    whole = [d for d in inputs if sought in (d.name.casefold(), f"{d.name}, {d.host_api}".casefold())]
    fitting = whole or [d for d in inputs if sought and sought in d.name.casefold()]
    if not fitting:
        return None
    if len({d.name for d in fitting}) > 1:
        raise SourceError(f"microphone={wanted!r} must fit one device only: {_listed(tuple(fitting))}")
    # One microphone appears once for each host API; the default's host API is the one the system favours.
    favoured = next((d.host_api for d in inputs if d.is_default), "")
    return next((d for d in fitting if d.host_api == favoured), fitting[0])


def _listed(inputs: tuple[InputDevice, ...]) -> str:
    return ", ".join(f"{device.index} {device.name!r}" for device in inputs)


def _reason(error: Exception) -> str:
    """Return PortAudio's own words, on one line and without the name of the call that failed."""
    text = " ".join(str(error.args[0] if error.args else error).split())
    return text.removeprefix("Error opening InputStream: ").removeprefix("Error starting stream: ")
