"""What `diag show MODULE` tells: what a module asks for, and the names that a use of it makes."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from diag.cli.columns import table
from diag.cli.printing import width, wrapped
from diag.cli.settings import Settings


def modules(settings: Settings) -> tuple[tuple[str, str, Path], ...]:
    """Every module that some machine may use: name, title and file, by name. Of two with one name, the earlier
    folder's; a module stands beside the machines that use it."""
    return tuple((name, _title(file), file) for name, file in sorted(files(settings).items()))


def files(settings: Settings) -> dict[str, Path]:
    """The file of each module by its name."""
    from diag.machine.expand.parameters import module_files
    from diag.machine.find import shipped_folder

    found: dict[str, Path] = {}
    for folder in (*settings.knowledge, shipped_folder()):
        # Those beside the machines of the folder; it is asked for the name of one of them, which need not be there.
        for name, file in module_files(folder / "machine").items():
            found.setdefault(name, file)
    return found


def _title(file: Path) -> str:
    from diag.machine.reader.gather import gather_module

    head = gather_module(file).head
    written = head.node.plain() if head is not None else None
    title = written.get("title") if isinstance(written, dict) else None
    return title if isinstance(title, str) and title else "no title; its file may be broken"


def as_object(name: str, file: Path) -> dict[str, Any]:
    """What `--json` prints of a module."""
    from diag.machine.expand.parameters import read_module
    from diag.machine.language.fields.sections import NAMED_IN

    template, problems, where = read_module(name, file)
    found: dict[str, Any] = {"module": name, "title": _title(file), "file": where, "problems": list(map(str, problems))}
    if template is None:
        return {**found, "parameters": [], "makes": {}, "uses": []}
    maps, lists = template.sections.maps, template.sections.lists
    makes = {section: [*maps.get(section, ()), *(w.id for w in lists.get(section, ()) if w.id)] for section in NAMED_IN}
    uses = [item.node.plain() for item in lists["uses"]]
    return {
        **found,
        "parameters": [
            {"name": id, "what": p.what, "kind": p.kind, "default": p.default.plain() if p.default else None}
            for id, p in template.parameters.items()
        ],
        "makes": {section: names for section, names in makes.items() if names},
        "uses": [
            {key: str(use.get(key, "")) for key in ("module", "as")} if isinstance(use, dict) else {} for use in uses
        ],
    }


def lines(found: dict[str, Any]) -> Iterator[str]:
    """What a person reads."""
    yield from wrapped(f"module {found['module']}: {found['title']}", 0, 2)
    for text in (found["file"], *found["problems"]):
        yield from wrapped(text, 2, 4)
    yield ""
    yield "It asks for" if found["parameters"] else "It asks for nothing."
    yield from table([(p["name"], p["kind"], _asked_for(p)) for p in found["parameters"]], width(), 2)
    if found["makes"]:
        yield ""
        yield from wrapped("Used as NAME, it makes", 0)
        made = [(section, ", ".join(f"NAME-{id}" for id in names)) for section, names in found["makes"].items()]
        yield from table(made, width(), 2)
    for use in found["uses"]:
        yield from wrapped(f"It uses the module {use['module']} as {use['as']}, which makes NAME-{use['as']}-...", 0, 2)
    if "chains" in found["makes"]:
        yield from wrapped("Each of its chains makes further names of its members, which begin with the chain's.", 0, 2)


def _asked_for(parameter: dict[str, Any]) -> str:
    """What a parameter is, with what stands for it where it is left out."""
    what, default = parameter["what"], parameter["default"]
    if default is None:
        return str(what)
    return f"{what}; left out: {default if isinstance(default, str) else ', '.join(default)}"
