"""The examples of rules as folders: a piece of a file laid over the sample machine, or a whole file beside it."""

from __future__ import annotations

import json
import re
from pathlib import Path

from diag.machine.reader.compose import compose
from diag.machine.span import Plain
from diag.vet.vetted.sample import SAMPLE

HEAD = re.compile(r"# (?P<no>no )?(?P<file>[a-z./-]+\.yaml)(?P<folder> is a folder)?(?:\n|\Z)")


def lay(folder: Path, piece: str) -> Path:
    """Writes the sample machine with this piece into the folder. Returns the folder."""
    folder.mkdir(parents=True, exist_ok=True)
    head = HEAD.match(piece)
    if head is None:
        (folder / "machine.yaml").write_text(over(piece))
        return folder
    if not head["no"]:
        (folder / "machine.yaml").write_text(SAMPLE)
        path = folder / head["file"]
        if head["folder"]:
            path.mkdir()
        else:
            path.write_text(piece)
    return folder


def over(piece: str) -> str:
    """The sample with this piece over it; a piece that is no YAML stands below it as it is."""
    node, problems = compose(piece, "piece")
    if node is None or problems:
        return f"{SAMPLE}{piece}\n"
    base, _ = compose(SAMPLE, "sample")
    assert base is not None
    whole, part = base.plain(), node.plain()
    if isinstance(whole, dict) and "trees" in part:
        whole = {**whole, "examples": []}  # they were told for other trees
    return json.dumps(merged(whole, part), indent=1)


def merged(base: Plain, piece: Plain) -> Plain:
    """Maps key by key; all else in place of what stood there."""
    if isinstance(base, dict) and isinstance(piece, dict):
        return {**base, **{key: merged(base[key], value) if key in base else value for key, value in piece.items()}}
    return piece
