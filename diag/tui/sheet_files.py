"""Writes the sheet as two files, Markdown and plain text, where the person will find them. Nothing is overwritten."""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from diag.case.case import Case

MOST = 999
"""The most sheets of one case in one folder."""


class CannotWrite(Exception):
    """The sheet could not be written in any folder; the message is one line."""


def write(case: Case, chosen: Path | None = None) -> tuple[Path, Path]:
    """Write both files under the first free name; where they went. Raises CannotWrite.

    `chosen`: the folder that was asked for, else the user's documents."""
    from diag.case.sheet import sheet

    texts = (sheet.markdown(case), sheet.plain(case))
    wrong = ""
    for folder in folders(chosen):
        try:
            folder.mkdir(parents=True, exist_ok=True)
            return _write(folder, f"{_safe(case.machine.recorded_as)}-{_safe(case.id)}", texts)
        except OSError as error:
            wrong = f"{folder}: {error.strerror or error}"
    raise CannotWrite(f"The sheet cannot be written. {wrong}. Another folder: diag start ... --out DIR")


def folders(chosen: Path | None = None) -> tuple[Path, ...]:
    """Where to write, the best place first: the folder that was chosen, else the user's documents or home folder. It
    is never just the folder in which the program happened to be started."""
    from platformdirs import user_documents_path

    return (chosen,) if chosen is not None else (user_documents_path(), Path.home())


def _write(folder: Path, name: str, texts: tuple[str, str]) -> tuple[Path, Path]:
    for number in range(1, MOST + 1):
        stem = name if number == 1 else f"{name}-{number}"
        paths = (folder / f"{stem}.md", folder / f"{stem}.txt")
        if any(os.path.lexists(path) for path in paths):
            continue
        for path, text in zip(paths, texts, strict=True):
            with path.open("x", encoding="utf-8") as file:
                file.write(text)
        return paths
    raise FileExistsError(f"there are {MOST} sheets of this case already")


def _safe(name: str) -> str:
    return re.sub(r"[^A-Za-z0-9._-]+", "-", name).strip(".-")[:60] or "case"
