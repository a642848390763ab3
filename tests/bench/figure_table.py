"""The figures of the README and the pages: each with the command that prints it, and where in its output it stands."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Figure:
    """One figure, under the name that its mark gives it."""

    name: str
    command: str
    """As it stands in the page beside the figure."""
    read: Callable[[str], str]
    """From what the command prints to the words of the page."""
    json: bool = True
    """The command is asked for JSON."""
    repeats: bool = True
    """A second run gives the same; not so for times."""
    quick: bool = False
    """It takes seconds, so the tests compare it."""

    @property
    def runs(self) -> str:
        return f"{self.command} --json" if self.json else self.command


def share(value: float, digits: int = 1) -> str:
    """`95.7 %`, with a space that does not break."""
    return f"{100 * value:.{digits}f}\u00a0%"


def of(pick: Callable[[Any], str]) -> Callable[[str], str]:
    """Reads JSON and picks a figure out of it."""
    return lambda printed: pick(json.loads(printed))


def line(pattern: str, shown: str = "{}") -> Callable[[str], str]:
    """Picks what the groups of a pattern find in printed text."""

    def read(printed: str) -> str:
        found = re.search(pattern, printed, re.MULTILINE)
        if found is None:
            raise ValueError(f"nothing printed is like {pattern!r}:\n{printed}")
        return shown.format(*found.groups()).replace(" %", "\u00a0%")

    return read


def simulated(machine: str, key: str = "first", shown: Callable[[float], str] = share) -> Callable[[str], str]:
    return of(lambda found: shown(next(one for one in found["simulated"] if one["machine"] == machine)[key]))


def followed(way: str, shown: Callable[[Any], str]) -> Callable[[str], str]:
    """A figure of one way in which the same stops of the tray stacker were followed."""

    def pick(found: Any) -> str:
        told = found["simulated"][0]
        return shown(told if told["way"] == way else told["ways"][way])

    return of(pick)


def least_of_each(found: Any) -> str:
    """The cause that came first least often, as `3 of 5`."""
    worst = min(found["simulated"][0]["causes"], key=lambda cause: cause["first"] / cause["drawn"])
    return f"{worst['first']} of {worst['drawn']}"


def display(number: int) -> Callable[[str], str]:
    return of(lambda found: share(found["displays"][number]["right_with_fault"]))


def excess(setups: str, way: str) -> Callable[[str], str]:
    """Above the best, on average and at worst."""

    def both(found: Any) -> str:
        one = found[setups][way]
        return f"{share(max(0.0, one['mean']), 2)}, {share(max(0.0, one['worst']))}"

    return of(both)


def minutes(printed: str) -> str:
    """What pytest says in its last line, in minutes."""
    return f"{float(line(r' in ([0-9.]+)s')(printed)) / 60:.0f}\u00a0min"


def wrong_of(found: Any) -> str:
    return f"{len(found['wrong']) or 'none'} of {found.get('tried', found['count']):,}"


CASES = "diag try tray-stacker --simulate 100 --tree"
STOPS = "diag try --simulate 500 --quick"
EACH, ADVICE, CODES = "diag try tray-stacker --simulate 5 --each --quick", "diag measure advice", "diag measure codes"
START, KEYS, MEMORY = "python tests/bench/start.py", "python tests/bench/keys.py", "python tests/bench/memory.py"


def bench(name: str, command: str, row: str, shown: str) -> Figure:
    pattern = rf"^{re.escape(row)}: median ([\d.]+) "
    return Figure(name, command, line(pattern, shown), json=False, repeats=False)


def peer(name: str, command: str, row: str, shown: str) -> Figure:
    """The peer of a row, which stands in the line below it."""
    pattern = rf"^{re.escape(row)}: .*\n    peer, .*?: median ([\d.]+) "
    return Figure(name, command, line(pattern, shown), json=False, repeats=False)


ROWS = (
    Figure("stacker-first", STOPS, simulated("tray-stacker")),
    Figure("stacker-three", STOPS, simulated("tray-stacker", "in_three")),
    Figure("stacker-calibration", STOPS, simulated("tray-stacker", "calibration", lambda v: f"{100 * v:.1f} points")),
    *(
        Figure(f"{name}-{place}", STOPS, simulated(machine, key))
        for name, machine in (("conveyor", "chilled-conveyor"), ("kiln", "kiln-transfer"), ("pumps", "pump-set"))
        for place, key in (("first", "first"), ("three", "in_three"))
    ),
    *(
        Figure(f"{way}-{name}", CASES, followed(way, shown))
        for way in ("advice", "tree")
        for name, shown in (
            ("first", lambda told: share(told["first"])),
            ("cured", lambda told: share(told["endings"]["cured"])),
            ("minutes", lambda told: f"{told['minutes']:.0f}\u00a0min"),
        )
    ),
    Figure("each-first", EACH, simulated("tray-stacker")),
    Figure("each-three", EACH, simulated("tray-stacker", "in_three")),
    Figure("each-least", EACH, of(least_of_each)),
    Figure(
        "without-noticed",
        "diag try tray-stacker --simulate 500 --without",
        of(lambda found: share(found["without"][0]["unlisted_in_two"])),
    ),
    Figure(
        "without-wrongly",
        "diag try tray-stacker --simulate 500 --without",
        of(lambda found: share(found["without"][0]["taken_wrongly"])),
    ),
    Figure(
        "double-named",
        "diag try tray-stacker --simulate 200 --double",
        of(lambda found: share(found["double"][0]["both_named_in_two"])),
    ),
    Figure(
        "examples",
        "diag try",
        of(lambda found: f"{sum(one['fine'] for one in found['examples'])} of {len(found['examples'])}"),
    ),
    Figure("advice-rollout", ADVICE, excess("without_set_ups", "rollout")),
    Figure("advice-exact", ADVICE, excess("without_set_ups", "dynamic programming")),
    Figure("setups-rollout", ADVICE, excess("set_ups", "rollout")),
    Figure("setups-exact", ADVICE, excess("set_ups", "dynamic programming")),
    Figure("setups-entropy", ADVICE, excess("set_ups", "entropy a minute")),
    Figure("taps", "diag measure taps", of(lambda found: share(found["rate"]))),
    Figure("holds", "diag measure taps --hold", of(lambda found: share(found["rate"]))),
    Figure("digits", CODES, of(lambda found: share(found["led_domain"]["decoder_told"], 6))),
    Figure("digits-best", CODES, of(lambda found: share(found["led_domain"]["best"], 6))),
    Figure("codes-healthy", CODES, of(lambda found: share(min(one["right_healthy"] for one in found["displays"])))),
    *(Figure(f"codes-{name}", CODES, display(n)) for n, name in enumerate(("alarm", "rack", "digit"))),
    Figure(
        "readings",
        "diag measure readings",
        of(lambda found: f"{sum(one['right'] for one in found['readings'])} of {len(found['readings'])}"),
        quick=True,
    ),
    Figure("fuzz", "diag measure fuzz --count 1000000", of(wrong_of)),
    Figure("files", "diag measure files --count 10000 --seed 101", of(wrong_of)),
    bench("start-screen", START, "diag, until the first screen is painted", "{} s"),
    peer("start-screen-peer", START, "diag, until the first screen is painted", "{} s"),
    bench("start-rank", START, "diag rank tray-stacker supply-lamp=dark", "{} s"),
    peer("start-rank-peer", START, "diag rank tray-stacker supply-lamp=dark", "{} s"),
    Figure(
        "rank-ratio",
        START,
        line(r"with one model: .*; ratio ([\d.]+), promised", "{} times"),
        json=False,
        repeats=False,
    ),
    bench("start-help", START, "diag --help", "{} s"),
    bench("key-panel", KEYS, "a key, until the panel is repainted", "{} ms"),
    bench("key-advice", KEYS, "a key, until the advice is repainted", "{} ms"),
    peer("key-peer", KEYS, "a key, until the panel is repainted", "{} ms"),
    bench("memory", MEMORY, "peak memory of a session of the app", "{} MB"),
    peer("memory-peer", MEMORY, "peak memory of a session of the app", "{} MB"),
    Figure("suite", "python -m pytest", minutes, json=False, repeats=False),
    Figure(
        "kills",
        "python tests/case/kill.py --times 1000",
        line(r"all (\d+) entries shown as recorded were there", "none of {}"),
        json=False,
        repeats=False,
    ),
    Figure(
        "power-cuts",
        "python tests/record/power_cut.py --times 1000",
        line(r"as the program is: (\d+) lost entries that were told as recorded, (\d+) left", "{} and {}"),
        json=False,
        repeats=False,
    ),
    Figure(
        "writers",
        "python tests/record/many.py",
        line(r"PostgreSQL, 50 writers: (\d+) entries recorded, .*; lost (\d+), twice (\d+)", "{1} and {2} of {0}"),
        json=False,
        repeats=False,
    ),
)

FIGURES = {figure.name: figure for figure in ROWS}
