"""A skeleton as it is when somebody has made it their own: without its marks."""

from __future__ import annotations

from pathlib import Path

from diag.machine.reader.file_text import MARK


def finish(folder: Path) -> Path:
    """Takes the marks out of all files of a machine's folder. Returns the folder."""
    for file in folder.rglob("*.yaml"):
        file.write_text(file.read_text(encoding="utf-8").replace(f"{MARK}: ", ""), encoding="utf-8", newline="\n")
    return folder
