"""Which machines there are, without reading one whole."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final, NamedTuple

from diag.machine.approval.approval import DRAFT, WORDS
from diag.machine.language.spellings import Renamed, spellings_of
from diag.machine.names import NEAR_ENOUGH
from diag.machine.problem import UNSAFE, shown
from diag.machine.reader.file_text import reason, shown_path
from diag.text import one_line

VARIABLE: Final = "DIAG_KNOWLEDGE"
"""The environment variable that points at a site's own folder."""
MODULES: Final = "modules"
"""The folder beside the machines that holds what several of them share."""
HEAD_BYTES: Final = 16_000
"""How much of a machine.yaml is looked at for its title and place; they stand at its top."""
MOST_TOLD: Final = 12
"""How many names of machines a message tells."""
_QUOTED: Final = re.compile(r"""("(?:[^"\\]|\\.)*"|'(?:[^']|'')*')[ \t]*(?:#.*)?""")


Folders = Path | Sequence[Path]
"""One folder of machines, or several, of which an earlier one goes before a later one."""


class NoSuchMachine(ValueError):
    """No machine of that name. The message is one line; `nearest` the nearest names, best first."""

    def __init__(self, text: str, nearest: tuple[str, ...] = ()) -> None:
        super().__init__(text)
        self.nearest = nearest


class _Head(NamedTuple):
    """The header fields that a list shows, as they are written."""

    title: str
    place: str
    approval: str
    assets: str


_HEAD: Final = {old: field for field in _Head._fields for old in spellings_of(field)}
_FIELD: Final = re.compile(rf"({'|'.join(_HEAD)}):(?:[ \t]+(.*))?")
_A_LIST: Final = _Head._fields[-1]
"""The field that holds several texts."""
_SIGNS: Final = tuple(">|&*!{[")
"""How a value begins that is more than its text."""


@dataclass(frozen=True, slots=True)
class Listed:
    """A machine as a list shows it."""

    id: str
    title: str
    place: str
    folder: Path
    approval: str = ""
    """draft or trial; empty when only the whole file can tell, as of an approval whether it still holds."""
    problem: str = ""
    """Why it cannot even be listed properly; empty when nothing is seen at a glance."""
    assets: tuple[str, ...] = ()
    """The machines that share the file; none where it serves one alone."""
    hides: tuple[Path, ...] = ()
    """Machines of the same name in later folders. Then none of them is found by the name, since the record could not
    tell their locks apart."""


def knowledge_folders(given: Iterable[Path] = (), *, shipped: bool = True) -> tuple[Path, ...]:
    """Where machines are looked for, the first place first, each once: the folders given, else those that
    `DIAG_KNOWLEDGE` names; then, if wanted, the one that came with the program."""
    folders = tuple(given) or tuple(Path(word) for word in os.environ.get(VARIABLE, "").split(os.pathsep) if word)
    once: dict[Path, Path] = {}
    for folder in (*folders, *([shipped_folder()] if shipped else [])):
        once.setdefault(folder.resolve(), folder)
    return tuple(once.values())


def shipped_folder() -> Path:
    """The folder of the machines and modules that came with the program, else the repository's."""
    package = Path(__file__).resolve().parent.parent
    packaged = package / "knowledge"
    return packaged if packaged.is_dir() else package.parent / "knowledge"


def listing(folders: Folders) -> tuple[Listed, ...]:
    """The machines of some folders by id, broken ones among them. Of two with one id the one in the earlier folder is
    listed, and its problem is where the others are. Never raises; a folder that is not there holds none."""
    found: dict[str, Listed] = {}
    for folder in _each(folders):
        for name in _names(folder):
            first = found.get(name)
            hidden = None if first is None else replace(first, hides=(*first.hides, folder / name))
            found[name] = hidden or listed_in(folder / name)
    every = (found[name] for name in sorted(found))
    return tuple(replace(one, problem=_several(one)) if one.hides else one for one in every)


def _several(machine: Listed) -> str:
    """Why a machine that is in several folders cannot be found by its name."""
    where = places((machine.folder, *machine.hides))
    return f"it is in several folders, {where}; rename all but one of them, or leave their folder out"


def places(folders: Folders) -> str:
    """The folders as a message names them: `a, b and c`."""
    *some, last = [f"'{one_line(shown_path(folder))}'" for folder in _each(folders)] or ["no folder"]
    return f"{', '.join(some)} and {last}" if some else last


def _each(folders: Folders) -> Sequence[Path]:
    return (folders,) if isinstance(folders, Path) else folders


def _names(folder: Path) -> list[str]:
    try:
        with os.scandir(folder) as entries:
            names = [entry.name for entry in entries if not entry.name.startswith(".")]
    except OSError:
        return []
    return [name for name in names if os.path.lexists(folder / name / "machine.yaml")]


def listed_in(folder: Path) -> Listed:
    """The machine of a folder as a list shows it. Never raises because of what it finds there."""
    file = folder / "machine.yaml"
    bare = Listed(folder.name, folder.name, "", folder)
    try:
        if not file.is_file():
            return replace(bare, problem="its machine.yaml is not an ordinary file")
        with file.open("rb") as stream:
            head = stream.read(HEAD_BYTES)
        text = head.decode("utf-8-sig", errors="ignore" if len(head) == HEAD_BYTES else "strict")
    except OSError as error:
        return replace(bare, problem=f"its machine.yaml cannot be read: {reason(error)}")
    except UnicodeDecodeError:
        return replace(bare, problem="its machine.yaml is not UTF-8")
    found = dict.fromkeys(_Head._fields, "")
    lines = text.splitlines()
    for n, line in enumerate(lines):
        match = _FIELD.fullmatch(line)
        if match and not found[_HEAD[match[1]]]:
            raw = (match[2] or "").strip()
            found[_HEAD[match[1]]] = _value(raw) if _on_its_line(raw, lines, n) else _parsed(match[1], raw, lines, n)
    title, place, word, some = _Head(**found)
    problem = _name_problem(folder.name) or ("" if title else "its machine.yaml has no title")
    if not word and len(head) < HEAD_BYTES and not any(name in text for name in spellings_of(Renamed.APPROVAL)):
        word = DRAFT
    assets = tuple(some.split("\n")) if some else ()
    return Listed(folder.name, title or folder.name, place, folder, word if word in WORDS else "", problem, assets)


def _name_problem(name: str) -> str:
    """What is wrong with a folder's name that no command can be given as a machine's name."""
    if one_line(name) != name:
        return "its folder's name holds a line break, another character that cannot be seen, or spaces too many"
    return "its folder's name begins with a hyphen, as an option does" if name.startswith("-") else ""


def _on_its_line(raw: str, lines: Sequence[str], n: int) -> bool:
    """Whether the value of a field is no more than what stands behind it on line `n`, so that no YAML need be read."""
    if raw.startswith(_SIGNS) or ("\\" in raw and raw.startswith('"')):
        return False
    if raw.startswith(("'", '"')):
        return bool(_QUOTED.fullmatch(raw))
    following = next((line for line in lines[n + 1 :] if line.strip()), "")
    return not following.startswith((" ", "\t", "- ")) or following.lstrip().startswith("#")


def _parsed(field: str, raw: str, lines: Sequence[str], n: int) -> str:
    """The value of the field on line `n`, read as YAML: in the text as a whole, else by itself; of a list each text on
    a line of its own. Where neither can be read: what stands on the line, or nothing where that is a sign and no
    text."""
    from diag.machine.reader.compose import compose

    after = (m for m in range(n + 1, len(lines)) if lines[m].strip() and not lines[m].startswith((" ", "\t", "- ")))
    for some in (lines, lines[n : next(after, len(lines))]):
        root, _ = compose("\n".join(some) + "\n", "")
        if root is not None and isinstance(root.value, dict) and field in root.value:
            value = root.value[field].value
            if isinstance(value, list) and _HEAD[field] == _A_LIST:
                return "\n".join(_safe(node.value) for node in value if isinstance(node.value, str) and node.value)
            return _safe(value) if isinstance(value, str) else ""
    return "" if raw.startswith(_SIGNS) else _value(raw.strip("\"'"))


def _value(text: str) -> str:
    """The value of a `title:` line, near enough for a list: quotes and a comment taken off."""
    quoted = _QUOTED.fullmatch(text.strip())
    return _safe(quoted[1][1:-1].replace("''", "'") if quoted else re.split(r"(?:^|[ \t])#", text)[0])


def _safe(text: str) -> str:
    return UNSAFE.sub("?", " ".join(text.split()))[:200]


def find(name: str, folders: Folders) -> Path:
    """The folder of the machine `name`. Raises NoSuchMachine with the nearest names.

    `name` may be an id in any case, or the path of a machine's folder. An id that is in several folders is refused.
    """
    machines = listing(folders)
    same = [machine for machine in machines if machine.id.casefold() == name.casefold()]
    for machine in same:
        if machine.id == name or len(same) == 1:
            if machine.hides:
                raise NoSuchMachine(f"{shown(machine.id)} cannot be used by its name: {machine.problem}")
            return machine.folder
    try:
        given = Path(name)
        if (given / "machine.yaml").is_file():
            return given
    except (OSError, ValueError):
        pass
    if not machines:
        raise NoSuchMachine(f"there are no machines in {places(folders)}")
    near = _nearest(name, machines)
    if near:
        raise NoSuchMachine(f"no machine {shown(name)}; nearest: {', '.join(near)}", near)
    raise NoSuchMachine(f"no machine {shown(name)}; known: {_some([machine.id for machine in machines])}")


def _some(names: Sequence[str]) -> str:
    """All of the names where they are few, else the first ones and how many more there are."""
    if len(names) <= MOST_TOLD:
        return ", ".join(names)
    return f"{', '.join(names[: MOST_TOLD - 1])} and {len(names) - MOST_TOLD + 1} more"


def _nearest(name: str, machines: tuple[Listed, ...]) -> tuple[str, ...]:
    """Up to three ids whose id or title is like `name`."""
    from rapidfuzz import fuzz

    words = name[:200].casefold()
    scored = sorted(
        (-max(fuzz.ratio(words, machine.id.casefold()), fuzz.WRatio(words, machine.title.casefold())), machine.id)
        for machine in machines
    )
    return tuple(id for score, id in scored[:3] if score <= -NEAR_ENOUGH)
