"""Which machines there are, by name, without reading them."""

from __future__ import annotations

from pathlib import Path

import click

from diag.cli.names import did_you_mean


def names(knowledge: Path) -> tuple[str, ...]:
    """The machines of a folder: its folders that hold a `machine.yaml`."""
    return tuple(sorted(path.parent.name for path in knowledge.glob("*/machine.yaml")))


def folder(knowledge: Path, name: str) -> Path:
    """The folder of a machine. Raises `click.UsageError`, with the nearest names, when there is none of that name."""
    known = names(knowledge)
    if not known:
        raise click.UsageError(f"no machines in {knowledge} (a machine is a folder with a machine.yaml)")
    if name not in known:
        near = did_you_mean(name, known) or f"; there are: {', '.join(known)}"
        raise click.UsageError(f"there is no machine {name!r}{near}")
    return knowledge / name
