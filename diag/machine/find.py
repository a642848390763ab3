"""Which machines there are, without reading one whole."""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from diag.machine.problem import UNSAFE, shown
from diag.machine.standing import DRAFT, WORDS
from diag.machine.text import shown_path

VARIABLE: Final = "DIAG_KNOWLEDGE"
"""The environment variable that points at a site's own folder."""
MODULES: Final = "modules"
"""The folder beside the machines that holds what several of them share."""
HEAD_BYTES: Final = 16_000
"""How much of a machine.yaml is looked at for its title and place; they stand at its top."""
_FIELD: Final = re.compile(r"(title|place|standing):[ \t]+(.+)")
_QUOTED: Final = re.compile(r"""("(?:[^"\\]|\\.)*"|'(?:[^']|'')*')[ \t]*(?:#.*)?""")


class NoSuchMachine(ValueError):
    """No machine of that name. The message is one line; `nearest` the nearest names, best first."""

    def __init__(self, text: str, nearest: tuple[str, ...] = ()) -> None:
        super().__init__(text)
        self.nearest = nearest


@dataclass(frozen=True, slots=True)
class Listed:
    """A machine as a list shows it."""

    id: str
    title: str
    place: str
    folder: Path
    standing: str = ""
    """draft or trial; empty when only the whole file can tell, as of an approval whether it still holds."""
    problem: str = ""
    """Why it cannot even be listed properly; empty when nothing is seen at a glance."""


def knowledge_folder(override: Path | None = None) -> Path:
    """The folder of the machines: the one given, else the one that `DIAG_KNOWLEDGE` names, else the one that came
    with the program, else the repository's."""
    if override is not None:
        return override
    named = os.environ.get(VARIABLE, "")
    return Path(named) if named else shipped_folder()


def shipped_folder() -> Path:
    """The folder of the machines and modules that came with the program, else the repository's."""
    package = Path(__file__).resolve().parent.parent
    packaged = package / "knowledge"
    return packaged if packaged.is_dir() else package.parent / "knowledge"


def listing(folder: Path) -> tuple[Listed, ...]:
    """The machines of a folder by id, broken ones among them. Never raises; a folder that is not there holds none."""
    try:
        with os.scandir(folder) as entries:
            names = sorted(entry.name for entry in entries if not entry.name.startswith("."))
    except OSError:
        return ()
    return tuple(_listed(folder / name) for name in names if os.path.lexists(folder / name / "machine.yaml"))


def _listed(folder: Path) -> Listed:
    file = folder / "machine.yaml"
    try:
        if not file.is_file():
            return Listed(folder.name, folder.name, "", folder, problem="its machine.yaml is not an ordinary file")
        with file.open("rb") as stream:
            head = stream.read(HEAD_BYTES)
        text = head.decode("utf-8-sig", errors="ignore" if len(head) == HEAD_BYTES else "strict")
    except OSError as error:
        reason = (error.strerror or "the system refused it").lower()
        return Listed(folder.name, folder.name, "", folder, problem=f"its machine.yaml cannot be read: {reason}")
    except UnicodeDecodeError:
        return Listed(folder.name, folder.name, "", folder, problem="its machine.yaml is not UTF-8")
    found: dict[str, str] = {}
    for line in text.splitlines():
        match = _FIELD.match(line)
        if match:
            found.setdefault(match[1], _value(match[2]))
            if len(found) == 3:
                break
    problem = "" if found.get("title") else "its machine.yaml has no title"
    word = found.get("standing", DRAFT if len(head) < HEAD_BYTES and "standing" not in text else "")
    standing = word if word in WORDS else ""
    return Listed(folder.name, found.get("title") or folder.name, found.get("place", ""), folder, standing, problem)


def _value(text: str) -> str:
    """The value of a `title:` line, near enough for a list: quotes and a comment taken off."""
    quoted = _QUOTED.fullmatch(text.strip())
    text = quoted[1][1:-1].replace("''", "'").replace('\\"', '"') if quoted else re.split(r"[ \t]#", text)[0]
    return UNSAFE.sub("?", text.strip())[:200]


def find(name: str, folder: Path) -> Path:
    """The folder of the machine `name`. Raises NoSuchMachine with the nearest names.

    `name` may be an id in any case, or the path of a machine's folder.
    """
    machines = listing(folder)
    by_id = {machine.id: machine for machine in machines}
    if name in by_id:
        return by_id[name].folder
    same = [machine for machine in machines if machine.id.casefold() == name.casefold()]
    if len(same) == 1:
        return same[0].folder
    try:
        given = Path(name)
        if (given / "machine.yaml").is_file():
            return given
    except (OSError, ValueError):
        pass
    if not machines:
        raise NoSuchMachine(f"there are no machines in {shown(shown_path(folder))}")
    near = _nearest(name, machines)
    if near:
        raise NoSuchMachine(f"no machine {shown(name)}; nearest: {', '.join(near)}", near)
    raise NoSuchMachine(f"no machine {shown(name)}; known: {', '.join(list(by_id)[:8])}")


def _nearest(name: str, machines: tuple[Listed, ...]) -> tuple[str, ...]:
    """Up to three ids whose id or title is like `name`."""
    from rapidfuzz import fuzz

    def likeness(machine: Listed) -> float:
        words = name[:200].casefold()
        return max(fuzz.ratio(words, machine.id.casefold()), fuzz.WRatio(words, machine.title.casefold()))

    scored = sorted(((likeness(machine), machine.id) for machine in machines), key=lambda pair: (-pair[0], pair[1]))
    return tuple(id for score, id in scored[:3] if score >= 60.0)
