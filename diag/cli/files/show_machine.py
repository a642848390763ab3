"""What `diag show MACHINE` tells: its head, its lockout, what it holds, and the matrix of causes by indications."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any, Final

from diag.cli.columns import GAP, cells, cut_to_columns, padded, table, wrap
from diag.cli.files.list import how_often, indications
from diag.cli.printing import counted, heading, width, wrapped

if TYPE_CHECKING:
    from collections.abc import Mapping

    from diag.machine.model import Machine

CAUSE: Final = 26
"""Columns for the names of causes, where they need so many."""
STATE: Final = 24
"""Columns for one indication, where its states need so many."""
SURELY: Final = 0.95
"""A cause that shows a state so likely has no number behind it."""


def as_object(machine: Machine) -> dict[str, Any]:
    """What `--json` prints of a machine."""
    from diag.machine.model import scaled

    m = machine
    return {
        "machine": m.id,
        "title": m.title,
        "place": m.place,
        "revision": m.revision,
        "approval": m.approval.told,
        "approved": m.approval.holds,
        "hazards": list(m.hazards),
        "neighbours": list(m.neighbours),
        "zones": [
            {"id": z.id, "title": z.title}
            | {"points": list(z.points), "stored": list(z.stored), "test_points": list(z.test_points)}
            for z in m.zones.values()
        ],
        "indications": list(indications(m)),
        "causes": [
            {
                "id": c.id,
                "title": c.title,
                "part": c.part,
                "stops_a_year": c.rate,
                "shows": {
                    i: {state: round(p, 6) for state, p in scaled(states).items()} for i, states in c.shows.items()
                },
                "remedy": c.remedy.id if c.remedy is not None else None,
                "proof": {indication: list(states) for indication, states in c.proof.items()},
            }
            for c in m.causes.values()
        ],
        "checks": [
            {"id": c.id, "title": c.title, "gives": list(c.gives), "access": c.access.value, "minutes": c.minutes}
            for c in m.checks.values()
        ],
        "remedies": [
            {"id": r.id, "access": r.access.value, "zone": r.zone or None, "minutes": r.minutes}
            for r in m.remedies.values()
        ],
        "trees": [{"id": tree.id, "title": tree.title} for tree in m.trees.values()],
    }


def lines(machine: Machine) -> Iterator[str]:
    """What a person reads."""
    m = machine
    yield heading(f"{m.title}, {m.place}")
    yield from wrapped(f"{m.id}, {m.approval.told}, revision {m.revision}", 0, 2)
    yield from wrapped(m.approval.warning)
    for what, texts in (("Hazards", m.hazards), ("Still moves when it is off", m.neighbours)):
        if texts:
            yield from ("", heading(what), *(line for text in texts for line in wrapped(text, 2, 4)))
    if m.zones:
        yield from ("", heading("Zones, with what is locked, released and tested before anybody works in them"))
        yield from table([(z.id, _zone(machine, z.id)) for z in m.zones.values()], width(), 2)
    if m.resets:
        yield from ("", heading("Resets"))
        yield from table([(r.id, r.title) for r in m.resets.values()], width(), 2)
    yield ""
    written = sum(not check.implied for check in m.checks.values())
    counts = (
        f"{counted(len(m.indications), 'indication')}, {counted(len(m.causes), 'cause')}, {counted(written, 'check')}, "
        f"{counted(len(m.remedies), 'remedy', 'remedies')}, {counted(len(m.trees), 'tree')}; "
        f"diag list indications {m.id} and so on names them, diag show {m.id} NAME shows one."
    )
    yield from wrapped(counts)
    yield from matrix(machine, width())


def _zone(machine: Machine, id: str) -> str:
    zone = machine.zones[id]
    points = ", ".join(machine.points[point].title for point in zone.points)
    stored = ", ".join(machine.stored[one].title for one in zone.stored)
    tests = ", ".join(machine.test_points[one].title for one in zone.test_points)
    held = (("lock", points), ("release", stored), ("test", tests))
    return "; ".join([zone.title, *(f"{what} {which}" for what, which in held if which)])


def matrix(machine: Machine, columns: int) -> Iterator[str]:
    """The causes by the indications, in blocks of as many columns as fit. A cause that
    says nothing of a block's indications has no line in that block."""
    widths = _widths(machine)
    if not widths:
        return
    lead = min(CAUSE, columns // 2, max(map(cells, machine.causes)))
    blocks = list(_blocks(widths, columns - lead))
    for number, block in enumerate(blocks, start=1):
        yield ""
        yield heading(f"Causes by indications{f', {number} of {len(blocks)}' if len(blocks) > 1 else ''}")
        if number == 1:
            said = (
                "A cell names the state that the cause shows, with its probability in percent where it is not sure. "
                "An empty cell means the normal state, or one that follows from another indication."
            )
            yield from wrap(said, columns, "  ", "  ")
        yield from _head(block, lead)
        for cause in machine.causes.values():
            if any(indication in cause.shows for indication, _ in block):
                told = (padded(cut_to_columns(cell(cause.shows.get(i, {})), wide), wide) for i, wide in block)
                yield (padded(cut_to_columns(cause.id, lead), lead) + GAP + GAP.join(told)).rstrip()
    often = sorted(machine.causes.values(), key=lambda cause: -cause.rate)
    yield from ("", heading("How often"))
    yield from table([(cause.id, how_often(cause.rate), cause.title) for cause in often], columns, 2)


def _widths(machine: Machine) -> dict[str, int]:
    """The indications that some cause speaks of, in the order of the panel, with the columns that each needs."""
    told: dict[str, int] = {}
    for cause in machine.causes.values():
        for indication, shows in cause.shows.items():
            told[indication] = max(told.get(indication, 0), cells(cell(shows)))
    longest = {i: max(cells(part) + 1 for part in i.split("-")) for i in told}
    return {i: min(STATE, max(told[i], longest[i])) for i in machine.indications if i in told}


def _blocks(widths: Mapping[str, int], room: int) -> Iterator[list[tuple[str, int]]]:
    """The indications with their columns, so many together as fit; at least one."""
    block: list[tuple[str, int]] = []
    left = room
    for indication, wanted in widths.items():
        wide = min(wanted, room - len(GAP))
        if block and left < wide + len(GAP):
            yield block
            block, left = [], room
        block.append((indication, wide))
        left -= wide + len(GAP)
    yield block


def _head(block: Sequence[tuple[str, int]], lead: int) -> Iterator[str]:
    """The names of the indications, each on as many lines as its column is narrow, the last lines in one row."""
    names = [[padded(cut_to_columns(line, wide), wide) for line in _name(name, wide)] for name, wide in block]
    height = max(map(len, names))
    above = [[" " * wide] * (height - len(name)) for name, (_, wide) in zip(names, block, strict=True)]
    for words in zip(*(blank + name for blank, name in zip(above, names, strict=True)), strict=True):
        yield (" " * lead + GAP + GAP.join(words)).rstrip()


def _name(name: str, wide: int) -> list[str]:
    """The name on lines that end behind a hyphen."""
    return [line.replace("- ", "-") for line in wrap("- ".join(name.split("-")), wide)]


def cell(shows: Mapping[str, float]) -> str:
    """What a cause shows of one indication: `dark`, `low 60`, `low 60 absent 40`."""
    from diag.machine.model import scaled

    likely = sorted(scaled(shows).items(), key=lambda state: -state[1])
    return " ".join(state if p >= SURELY else f"{state} {p * 100:.0f}" for state, p in likely if p > 0)
