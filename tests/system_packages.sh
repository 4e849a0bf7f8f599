#!/bin/sh
# The tests play sound into a virtual microphone and drive a real terminal. On Debian and its kin as root the
# packages are installed; elsewhere this says exactly what to install.
set -eu
missing=""
have() { command -v "$1" >/dev/null 2>&1; }
have pulseaudio || missing="$missing pulseaudio"
{ have paplay && have pactl; } || missing="$missing pulseaudio-utils"
have tmux || missing="$missing tmux"
ldconfig -p 2>/dev/null | grep -q libportaudio.so.2 || missing="$missing libportaudio2"
find /usr/lib /usr/lib64 -path '*alsa-lib*' -name 'libasound_module_pcm_pulse.so' 2>/dev/null | grep -q . ||
    missing="$missing libasound2-plugins"
[ -z "$missing" ] && exit 0
if have apt-get && [ "$(id -u)" = 0 ]; then
    echo "installing for the tests:$missing"
    export DEBIAN_FRONTEND=noninteractive
    # shellcheck disable=SC2086
    { apt-get install -y -qq --no-install-recommends $missing ||
        { apt-get update -qq && apt-get install -y -qq --no-install-recommends $missing; }; } >/dev/null
    exit 0
fi
echo "the tests need these packages (Debian names):$missing" >&2
echo "install them, for example: sudo apt-get install$missing" >&2
exit 2
