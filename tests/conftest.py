"""For every test: hypothesis draws the same examples each time and times nothing."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("house", deadline=None, derandomize=True)
settings.load_profile("house")
