"""What every test run prints besides its result."""

from __future__ import annotations

import pytest


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Figures that a test recorded with `record_property("figure", text)`: what a proof visited, how fast."""
    reports = (r for kept in terminalreporter.stats.values() for r in kept if getattr(r, "when", "") == "call")
    figures = [text for report in reports for name, text in report.user_properties if name == "figure"]
    if figures:
        terminalreporter.section("figures")
        for text in sorted(figures):
            terminalreporter.write_line(text)
