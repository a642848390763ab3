"""The machine that all rooms test with, the table of outside sources, and what every run prints besides its result."""

from __future__ import annotations

import asyncio
import gc
import os
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from resting import Resting

from diag.machine.load import read
from diag.machine.model import Machine

# No setting of whoever runs the tests may help or hinder them; a test that is about one sets it itself.
for name in ("DIAG_KNOWLEDGE", "DIAG_SHIPPED", "DIAG_CASEBOOK", "DIAG_TRACE"):
    os.environ.pop(name, None)
os.environ["DIAG_CONFIG"] = os.devnull

MIXER = Path(__file__).parent / "machines" / "mixer"


@pytest.fixture(scope="session")
def mixer() -> Machine:
    """A small machine that exists nowhere: 9 causes, 12 indications, 2 trees, 2 examples."""
    return read(MIXER)


@pytest.fixture(scope="session")
def mixer_folder() -> Path:
    """Where it stands; not to be written to."""
    return MIXER


@pytest.hookimpl(optionalhook=True)
def pytest_asyncio_loop_factories() -> dict[str, Callable[[], asyncio.AbstractEventLoop]]:
    """What drives the app waits until the loop rests."""
    return {"resting": Resting}


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--sources", action="store_true", help="list the outside source of every check, and run nothing")


def pytest_configure(config: pytest.Config) -> None:
    if config.option.sources:
        config.option.markexpr = ""  # the slow ones too
        # Workers would collect the tests apart, where the table cannot see them.
        config.option.numprocesses = None
        config.option.dist = "no"
        config.option.tx = []


def pytest_collection_finish() -> None:
    """What was imported by then stays: a third of the time went to looking through it for garbage, again and again."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 50)


@pytest.hookimpl(tryfirst=True)
def pytest_runtestloop(session: pytest.Session) -> bool | None:
    """The table in place of the run."""
    if not session.config.option.sources:
        return None
    rows = sorted(set(_sources(session.items)))
    head = ("test", "source", "how found")
    widths = [max(len(row[column]) for row in [head, *rows]) for column in range(3)]
    for row in [head, tuple("-" * width for width in widths), *rows]:
        line = "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        print(line.rstrip())
    return True


def _sources(items: list[pytest.Item]) -> Iterator[tuple[str, str, str]]:
    """Test, source and how it was found, for every marker; one row for all the parameters of a test."""
    for item in items:
        for marker in item.iter_markers("source"):
            text = str(marker.args[0]) if marker.args else str(marker.kwargs.get("text", ""))
            yield item.nodeid.partition("[")[0], text, str(marker.kwargs.get("found", "not said"))


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Figures that a test recorded with `record_property("figure", text)`: what a proof visited, how fast."""
    reports = (r for kept in terminalreporter.stats.values() for r in kept if getattr(r, "when", "") == "call")
    figures = [text for report in reports for name, text in report.user_properties if name == "figure"]
    if figures:
        terminalreporter.section("figures")
        for text in sorted(figures):
            terminalreporter.write_line(text)
