"""Where the repository's own files lie, for tests that look at them."""

from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
DEMOS = ROOT / "demo_scenes"
