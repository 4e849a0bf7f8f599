"""From a reading to its likely causes: a small engine over the rules in ``models/causes.toml``.

``facts`` gathers what is known, ``rules`` reads the rule file, ``weighing`` adds the evidence up, and
``diagnosis`` puts the answer together, the silent decision included.
"""

from __future__ import annotations

from tuner.causes.diagnosis import diagnose_reading, is_silent
from tuner.causes.facts import LastMove, facts_of
from tuner.causes.rules import CauseRules, load_causes
from tuner.causes.weighing import weigh

__all__ = ["CauseRules", "LastMove", "diagnose_reading", "facts_of", "is_silent", "load_causes", "weigh"]
