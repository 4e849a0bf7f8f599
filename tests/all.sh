#!/bin/sh
# Every test, with the Python given first: files of tests side by side, then alone those that hear a real sound server,
# for they keep real time. More arguments choose tests; where they choose none at all, it fails.
set -u
python=$1
shift
"$python" -m pytest -q -p no:cacheprovider -n auto --dist loadfile -m "not device" "$@"
most=$?
[ $most = 0 ] || { [ $most = 5 ] && [ $# -gt 0 ]; } || exit $most
"$python" -m pytest -q -p no:cacheprovider -m device "$@"
alone=$?
[ $alone = 5 ] && [ $# -gt 0 ] && exit $most
exit $alone
