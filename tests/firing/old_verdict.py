"""A judgement as it was kept before verdicts had one format: a fuse with a power cut."""

import json
from pathlib import Path
from typing import Any

from firing.models import Firing, Judgement

FILE = Path(__file__).with_name("schedules") / "selectors" / "old_verdict.json"
# Its readings begin ten minutes late.
OLD: dict[str, Any] = json.loads(FILE.read_text())


def old_judgement(firing: Firing, **changes: object) -> Judgement:
    """Return the judgement, not saved."""
    facts = {"verdict": "must be annealed again", "numbers": OLD | {}}
    return Judgement(firing=firing, **(facts | changes))
