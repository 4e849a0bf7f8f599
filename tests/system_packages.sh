#!/bin/sh
# The tests play sound into a virtual microphone, drive a real terminal and look at a page in a real browser. On Debian
# and its kin as root the packages are installed; elsewhere this says exactly what to install.
set -eu
have() { command -v "$1" >/dev/null 2>&1; }
can_install() { have apt-get && [ "$(id -u)" = 0 ]; }
install() {
    echo "installing for the tests: $*"
    DEBIAN_FRONTEND=noninteractive
    export DEBIAN_FRONTEND
    { apt-get install -y -qq --no-install-recommends "$@" ||
        { apt-get update -qq && apt-get install -y -qq --no-install-recommends "$@"; }; } >/dev/null
}

set --
have pulseaudio || set -- "$@" pulseaudio
{ have paplay && have pactl; } || set -- "$@" pulseaudio-utils
ldconfig -p 2>/dev/null | grep -q libgomp.so.1 || set -- "$@" libgomp1
have tmux || set -- "$@" tmux
ldconfig -p 2>/dev/null | grep -q libportaudio.so.2 || set -- "$@" libportaudio2
find /usr/lib /usr/lib64 -path '*alsa-lib*' -name 'libasound_module_pcm_pulse.so' 2>/dev/null | grep -q . ||
    set -- "$@" libasound2-plugins
if [ $# -gt 0 ]; then
    if can_install; then
        install "$@"
    else
        echo "the tests need these packages (Debian names): $*" >&2
        echo "install them, for example: sudo apt-get install $*" >&2
        exit 2
    fi
fi

# Without the browser all other tests still run: a desktop may hold it as another kind of package.
if [ -z "${CHROMIUM:-}" ] && ! have chromium && ! have chromium-browser && ! have google-chrome; then
    { can_install && install chromium; } || {
        echo "the tests that look at the report page need Chromium and are left out without it" >&2
        echo "install it, for example: sudo apt-get install chromium, or name it: CHROMIUM=/path/to/it make test" >&2
    }
fi
