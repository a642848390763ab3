"""What `diag show MACHINE NAME` tells: the entries of that name, line by line, with where each line comes from."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING, Any, Final

from diag.cli.columns import cells
from diag.cli.errors import unknown
from diag.cli.printing import heading, width, wrapped
from diag.text import one_line

if TYPE_CHECKING:
    from pathlib import Path

    from diag.machine.model import Machine
    from diag.machine.origin import Line
    from diag.machine.place import Place

SECTIONS: Final = (
    *("indications", "groups", "causes", "remedies", "checks", "resets", "trees", "examples"),
    *("zones", "points", "stored", "test-points"),
)
"""Where an entry of that name is looked for, in this order."""
INSIDE: Final = "Work inside: this is what the file says. Whether it may be done now is for the lockout in the app."


@dataclass(frozen=True, slots=True)
class EntryLines:
    """One entry of a machine, line by line."""

    section: str
    id: str
    lines: tuple[Line, ...]
    notes: tuple[str, ...]
    """What other entries have to do with it, as sentences."""

    @property
    def kind(self) -> str:
        from diag.machine.language.fields.sections import NAMED_IN

        return str(NAMED_IN.get(self.section, self.section.removesuffix("s")))


def entries(folder: Path, name: str) -> tuple[EntryLines, ...]:
    """Every entry of that name; a reset and its question share one. Raises `WrongUsage` with the nearest name, and
    `NotAMachine` where the machine has errors."""
    from diag.machine.load import NotAMachine, load, read
    from diag.machine.origin import lines_in

    loaded = load(folder)
    if loaded.machine is None:
        read(folder)
        raise NotAMachine(f"{folder.name} cannot be read; see diag vet")
    written = [(section, name, lines_in(loaded.written, section, name)) for section in SECTIONS]
    found = [EntryLines(s, id, lines, tuple(_notes(loaded.machine, s, id))) for s, id, lines in written if lines]
    if not found and (implied := loaded.machine.checks.get(name)) is not None:
        # A look that nobody wrote, because no check gives the indication.
        gives = implied.gives[0]
        note = f"No file says it: it is the look at {gives} from outside, because no check gives that."
        return (EntryLines("checks", name, (), (note,)), *entries(folder, gives))
    if not found:
        raise unknown("entry", name, names(loaded.machine), of=folder.name)
    return tuple(found)


def names(machine: Machine) -> tuple[str, ...]:
    """Every name that an entry of the machine has, once each, in the order of the sections."""
    m = machine
    sections = (m.indications, m.groups, m.causes, m.remedies, m.checks, m.resets, m.trees, m.zones, m.points)
    every = (*sections, m.stored, m.test_points, [example.id for example in m.examples])
    return tuple(dict.fromkeys(id for section in every for id in section))


def _notes(m: Machine, section: str, id: str) -> Iterator[str]:
    told: dict[str, Iterable[str]] = {}
    inside = False
    match section:
        case "indications":
            told["given by"] = [c.id for c in m.checks_for.get(id, ()) if not c.implied]
            told["mentioned by the causes"] = [c.id for c in m.causes.values() if id in c.shows]
        case "causes" if id in m.causes and (remedy := m.causes[id].remedy):
            told["its remedy is"] = [remedy.id] if remedy.id != id else []
            inside = remedy.access.value != "outside"
        case "remedies" if id in m.remedies:
            told["for the causes"] = m.causes_of.get(id, ())
            inside = m.remedies[id].access.value != "outside"
        case "checks" if id in m.checks:
            inside = m.checks[id].access.value != "outside"
        case "zones":
            told["entered by the checks"] = [c.id for c in m.checks.values() if c.zone == id]
            told["entered by the remedies"] = [r.id for r in m.remedies.values() if r.zone == id]
        case "points" | "stored" | "test-points":
            told["of the zones"] = [z.id for z in m.zones.values() if id in (*z.points, *z.stored, *z.test_points)]
    yield from (f"{what} {', '.join(ids)}" for what, ids in told.items() if ids)
    if inside:
        yield INSIDE


def as_object(machine: str, found: tuple[EntryLines, ...]) -> dict[str, Any]:
    """What `--json` prints of entries."""
    return {
        "machine": machine,
        "name": found[0].id,
        "entries": [
            {
                "section": entry.section,
                "kind": entry.kind,
                "name": entry.id,
                "lines": [
                    {"path": list(line.path), "text": line.text, **_place(line.place), "used": _uses(line.place)}
                    for line in entry.lines
                ],
                "notes": list(entry.notes),
            }
            for entry in found
        ],
    }


def _place(place: Place) -> dict[str, Any]:
    return {"file": place.file, "line": place.line, "column": place.column}


def _uses(place: Place) -> list[dict[str, Any]]:
    """Where the module is used that the place is in, and where the module is used that that is in, and so on."""
    return [] if place.used is None else [_place(place.used), *_uses(place.used)]


def lines(machine: str, found: tuple[EntryLines, ...]) -> Iterator[str]:
    """What a person reads."""
    for number, entry in enumerate(found):
        if number:
            yield ""
        yield heading(f"{machine}: {'group' if entry.section == 'groups' else entry.kind} {entry.id}")
        uses: list[Place] = []
        for text, place in _joined(entry.lines):
            yield from _line(text, _source(place, uses))
        for n, used in enumerate(uses, start=1):
            yield from wrapped(f"({n}) used in {_file_and_line(used)}{used.user}", 2, 6)
        for note in entry.notes:
            yield from wrapped(note, 2, 4)


def _joined(lines: tuple[Line, ...]) -> Iterator[tuple[str, Place]]:
    """The lines with the words of one list, where they stand in one line of a file, on one line."""

    def list_of(line: Line) -> tuple[Any, ...]:
        ends = line.path[:-1] if line.path and isinstance(line.path[-1], int) else line.path
        return (ends, line.place.file, line.place.line, line.place.used)

    for key, group in groupby(lines, list_of):
        words = list(group)
        path = ".".join(str(part + 1) if isinstance(part, int) else part for part in key[0])
        text = ", ".join(one_line(line.text) for line in words)
        yield (f"{path}: {text}" if path else text), words[0].place


def _line(text: str, source: str) -> Iterator[str]:
    """The text, and behind it, at the right, where it comes from; below it where both do not fit on one line."""
    *before, last = wrapped(text, 2, 6) or [""]
    yield from before
    room = width() - cells(source)
    if cells(last) + 2 <= room:
        yield last + " " * (room - cells(last)) + source
    else:
        yield last
        yield from (" " * room + source,) if room >= 6 else wrapped(source, 6, 8)


def _source(place: Place, uses: list[Place]) -> str:
    """The file and line; in a module with the number of the use, which is added to `uses` where it is new."""
    if place.used is None:
        return _file_and_line(place)
    if place.used not in uses:
        uses.append(place.used)
    return f"{_file_and_line(place)} ({uses.index(place.used) + 1})"


def _file_and_line(place: Place) -> str:
    return one_line(f"{place.file}:{place.line}")
