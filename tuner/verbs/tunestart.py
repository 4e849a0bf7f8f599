"""``hushweir tune``, from the command line: the microphone is opened first, and what tuning needs is loaded meanwhile.

The microphone's queue holds ten seconds, so nothing of what sounds until then is lost.
"""

from __future__ import annotations

import argparse
from contextlib import ExitStack

from tuner.verbs.desk import Desk


def run(args: argparse.Namespace, desk: Desk) -> int:
    """Carry out the verb."""
    with ExitStack() as stack:
        if args.rehearsal is not None:
            microphone = None
        else:
            from tuner.capture.microphone import Microphone

            microphone = stack.enter_context(Microphone(args.device, args.rate))
        from tuner.verbs import tune

        return tune.run(args, desk, microphone)
