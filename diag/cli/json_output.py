"""JSON on standard output, for programs that read it: every object carries the version of its keys."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

import click

FLAG: Final = "--json"
VERSION: Final = 1
"""Goes up when a key is taken away or comes to mean something else; a new key leaves it as it is."""


def wanted(args: Sequence[str]) -> bool:
    """Whether these arguments ask for JSON, so that an error must be JSON too."""
    return FLAG in args[: args.index("--")] if "--" in args else FLAG in args


def say_object(found: Mapping[str, Any]) -> None:
    """Print one object."""
    click.echo(json.dumps({"version": VERSION, **found}, indent=2))


def say_objects(found: Iterable[Mapping[str, Any]]) -> None:
    """Print a list of objects."""
    click.echo(json.dumps([{"version": VERSION, **row} for row in found], indent=2))


def say_error(message: str, code: int) -> None:
    """Print what went wrong, with the exit code that follows."""
    say_object({"error": {"message": message, "exit_code": code}})
