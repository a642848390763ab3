"""The libraries that results are checked against, for the tests that use them.

They come with the extra `crosscheck`, which is large. Where one is missing, a test that reaches for it is skipped and
says so; the others in its file run.
"""

from __future__ import annotations

from typing import Any

import pytest


class Library:
    """A module that is imported by the first test that uses it."""

    def __init__(self, name: str) -> None:
        self._name = name

    def __getattr__(self, name: str) -> Any:
        if name.startswith(("_", "pytest")):  # pytest asks this of whatever it finds in a file of tests
            raise AttributeError(name)
        module = pytest.importorskip(self._name, reason=f"{self._name} is missing: pip install -e '.[dev,crosscheck]'")
        return getattr(module, name)


gum = Library("pyagrum")
naive_bayes = Library("sklearn.naive_bayes")
calibration = Library("sklearn.calibration")
metrics = Library("sklearn.metrics")
