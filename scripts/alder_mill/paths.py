"""Where the demo is, and where it keeps its house."""

from pathlib import Path

ROOT = Path(__file__).parents[2]
HOUSE = ROOT / ".work" / "demo"
PORTS = HOUSE / "bench.json"
"""Written while a demo runs: its bench's ports."""
