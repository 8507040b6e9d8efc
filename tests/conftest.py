"""What every test shares: where the build has to give the same answer twice, so do the drawn examples."""

from __future__ import annotations

import os

from hypothesis import settings

# Elsewhere each run draws anew and may find more; a found fault becomes a named case.
settings.register_profile("same each time", derandomize=True, deadline=None)
if os.environ.get("CI"):
    settings.load_profile("same each time")
