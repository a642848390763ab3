"""The skeleton that a new machine starts from: a folder of commented files that comes with the program."""

from __future__ import annotations

import contextlib
import re
from pathlib import Path
from typing import Final

from diag.machine.find import MODULES
from diag.machine.language.fields.sections import FILES, FOLDERS
from diag.machine.problem import shown
from diag.machine.reader.file_text import shown_path

SKELETON: Final = Path(__file__).resolve().parent / "skeleton_machine"
NAME_MARK: Final = "MACHINE-NAME"
TITLE_MARK: Final = "MACHINE TITLE"
LONGEST: Final = 40
"""Characters of a machine's name: it is a folder's name, and typed in commands."""
_NAME: Final = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")


class CannotMake(ValueError):
    """No machine can be made there under that name. The message is one line that says why, and what would do."""


def check_name(name: str) -> str:
    """The name as given, where it is one: small letters, digits and single hyphens. Raises CannotMake.

    Narrower than what a command would take: it is a folder's name on every system, and typed often.
    """
    if name == MODULES:
        raise CannotMake(f"{shown(name)} is the name of a folder beside the machines; choose another")
    if len(name) <= LONGEST and _NAME.fullmatch(name):
        return name
    plain = "-".join(re.findall("[a-z0-9]+", name.lower()))
    better = f"; {plain} would do" if plain and len(plain) <= LONGEST and name.isascii() else ""
    rule = f"a name has small letters a to z, digits and hyphens, at most {LONGEST} characters"
    raise CannotMake(f"{shown(name)} cannot be the name of a machine: {rule}{better}")


def title_of(name: str) -> str:
    """`carton-erector-2` is called `Carton erector 2` until somebody writes a better title."""
    words = name.replace("-", " ")
    return words[:1].upper() + words[1:]


def files() -> dict[str, str]:
    """The skeleton's files by their path in the machine's folder, in the order to work in, the marks still in them."""
    paths = [SKELETON / name for name in FILES]
    paths += [path for name in FOLDERS for path in sorted((SKELETON / name).glob("*.yaml"))]
    return {path.relative_to(SKELETON).as_posix(): path.read_text(encoding="utf-8") for path in paths}


def make(name: str, folder: Path) -> tuple[Path, ...]:
    """Writes the skeleton as the machine `name` into `folder`, and gives the files written.

    `folder` is made when it is not there and the one above it is. Nothing that is there is touched: raises CannotMake
    when there is anything of that name already, or the name is none. What cannot be written raises OSError, and leaves
    nothing behind.
    """
    check_name(name)
    top = folder / name
    try:
        folder.mkdir(exist_ok=True)
    except (FileExistsError, NotADirectoryError):
        raise CannotMake(f"{shown(shown_path(folder))} is not a folder") from None
    except FileNotFoundError:
        where, above = shown(shown_path(folder)), shown(shown_path(folder.parent))
        raise CannotMake(f"no machine can be made in {where}: there is no folder {above}") from None
    try:
        top.mkdir()
    except FileExistsError:
        raise CannotMake(f"{shown(shown_path(top))} is there already; choose another name") from None
    made: list[Path] = [top]
    try:
        for inside, text in files().items():
            path = top / inside
            if path.parent not in made:
                path.parent.mkdir()
                made.append(path.parent)
            with path.open("x", encoding="utf-8", newline="\n") as file:
                made.append(path)
                file.write(text.replace(NAME_MARK, name).replace(TITLE_MARK, title_of(name)))
    except OSError:
        for path in reversed(made):
            with contextlib.suppress(OSError):
                path.rmdir() if path.is_dir() else path.unlink()
        raise
    return tuple(path for path in made if path.is_file())
