"""A short checksum of everything that a machine's files say, so that an approval can tell whether they have changed.

These count: the header fields, every section, and what modules and chains make, written out as the machine uses it. So
a change in a module changes each machine that uses that part of it. The order of entries counts too, since it decides
which digit marks which state.

These do not count: remarks, blank lines, indents, quotes and anchors, in which file of the machine an entry stands,
the order of the header fields and of the trees, the folder's name, and the approval itself. Nor do worked examples:
they test the knowledge and are not part of it, and the app does not even read them.

It goes over the words as written, not over what this program makes of them, so that approvals survive a new version of
the program. Two ways to write the same (`dark` and `{dark: always}`) therefore differ: changing one to
the other makes the approval ask for a new look, which is the safe way round.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from diag.machine.language.fields.base_source import names
from diag.machine.language.fields.machine_fields import HeadSource
from diag.machine.language.fields.sections import HEAD, MAPS, Sections

if TYPE_CHECKING:
    from diag.machine.reader.gather import Folder

DIGITS: Final = 16
"""Hexadecimal digits that are kept: 64 bits. It shows changes made in good faith, and is not a seal against forgery."""
_HEAD, _SECTION = names(HeadSource), names(Sections)
LEFT_OUT: Final = frozenset({_HEAD.approval})
LISTED: Final = (_SECTION.dangers, _SECTION.trees)
"""Lists that count; `uses` and `chains` are written out by now, and examples do not."""


def digest(found: Folder) -> str:
    """The digest of a folder whose modules and chains are written out: the first 16 hexadecimal digits of the SHA-256
    of its words as canonical JSON (ASCII, no blanks). The same on every system and in every version of Python: all
    leaves are words, so that no number is ever spelled anew."""
    import hashlib
    import json

    whole = json.dumps(content(found), ensure_ascii=True, separators=(",", ":"))
    return hashlib.sha256(whole.encode("ascii")).hexdigest()[:DIGITS]


def content(found: Folder) -> list[Any]:
    """What the digest is taken over, as lists and maps of words in a fixed order."""
    head = found.head.node.value if found.head is not None else {}
    said = dict(head) if isinstance(head, dict) else {}
    fields = [[name, said[name].plain()] for name in sorted(HEAD) if name in said and name not in LEFT_OUT]
    sections: list[Any] = [
        [name, [[id, item.node.plain()] for id, item in found.maps[name].items()]] for name in MAPS if found.maps[name]
    ]
    trees = found.lists[_SECTION.trees]
    lists = {**found.lists, _SECTION.trees: sorted(trees, key=lambda item: item.id)}
    sections += [[name, [item.node.plain() for item in lists[name]]] for name in LISTED if lists[name]]
    start = "" if _HEAD.start in said or not trees else trees[0].id
    return [fields, sections, start]
