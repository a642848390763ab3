"""Which machines there are, by name, without reading them."""

from __future__ import annotations

from pathlib import Path

from diag.cli.errors import WrongUsage, unknown


def names(knowledge: Path) -> tuple[str, ...]:
    """The machines of a folder: its folders that hold a `machine.yaml`."""
    return tuple(sorted(path.parent.name for path in knowledge.glob("*/machine.yaml")))


def folder(knowledge: Path, name: str) -> Path:
    """The folder of a machine. Raises `WrongUsage`, with the nearest names, when there is none of that name."""
    known = names(knowledge)
    if not known:
        raise WrongUsage(f"no machines in {knowledge} (a machine is a folder with a machine.yaml)")
    if name not in known:
        raise unknown("machine", name, known)
    return knowledge / name
