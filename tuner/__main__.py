"""``python -m tuner`` is the same as ``hushweir``."""

import sys

from tuner.cli import main

sys.exit(main())
