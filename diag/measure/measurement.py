"""What a measure gives back: figures by name, lines to read, and whether every target was met."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

MOST_SHOWN: Final = 5
"""Wrong answers that are listed for a reader; the JSON has all of them."""

Figure = float | int | str


@dataclass(frozen=True, slots=True)
class Measurement:
    """One run of one measure."""

    what: str
    """The word after `diag measure`."""
    good: bool
    """Every target was met and nothing was wrong."""
    figures: Mapping[str, Figure]
    """What a page may quote. A name, once published, keeps its meaning; shares are from 0 to 1, times in seconds."""
    lines: Sequence[str]
    """For a reader, in order. Tables fit into 80 columns; a longer line may be wrapped."""
    details: Mapping[str, Any] = field(default_factory=dict)
    """Everything else that the JSON holds: settings, tables, what was wrong."""

    def as_object(self) -> dict[str, Any]:
        """Ready for JSON."""
        return {"measure": self.what, "met": self.good, "figures": dict(self.figures), **self.details}

    def figure_lines(self) -> Iterator[str]:
        """Each figure under its name, as the JSON has it."""
        wide = max(map(len, self.figures), default=0)
        for name, value in self.figures.items():
            yield f"  {name:<{wide}}  {value:.10g}" if isinstance(value, float) else f"  {name:<{wide}}  {value}"


def verdict(good: bool) -> str:
    """Whether a target was met, so that the eye finds it when it was not."""
    return "met" if good else "MISSED"


def listed(wrong: Sequence[str], lead: str = "") -> Iterator[str]:
    """The first few wrong answers, and how many more there are."""
    for text in wrong[:MOST_SHOWN]:
        yield f"  {lead}{text}"
    if len(wrong) > MOST_SHOWN:
        yield f"  and {len(wrong) - MOST_SHOWN} more (--json lists them)"


def stopped_early(tried: int, count: int) -> Iterator[str]:
    """Says so when a run ended before its time."""
    if tried < count:
        yield f"stopped after {tried:,} of {count:,}: enough are wrong"
