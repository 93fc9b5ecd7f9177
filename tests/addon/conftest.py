"""What tests of the editor's half ask for by name."""

from followed import live, settle, tank  # noqa: F401  fixtures
from scanned import scanned  # noqa: F401  likewise
