"""Where the demo is, and where it keeps its house."""

import os
from pathlib import Path

ROOT = Path(__file__).parents[2]
HOUSE = Path(os.environ.get("CHARGEHAND_DEMO", ROOT / ".work" / "demo"))
"""Another folder for each demo that is to run beside others in this clone, as tests do."""

PORTS = HOUSE / "bench.json"
"""Written while a demo runs: its bench's ports."""
