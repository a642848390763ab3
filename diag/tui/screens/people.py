"""What is said and asked of people who sit down at a case: what they may do, and whether one name is one person."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import count

from diag.safety.types import Person, folded, same_name
from diag.text import one_line
from diag.tui.questions import ChooseOne, Row


def said(person: Person) -> str:
    """What a person said of themselves, in a few words."""
    words = [person.role.value]
    if person.authorised:
        words.append("locks out")
    if person.qualified:
        words.append("live")
    return ", ".join(words)


def same_person(
    person: Person, known: Iterable[Person], locks: Sequence[tuple[str, str]], here: str = ""
) -> ChooseOne | None:
    """Asks whether somebody is who the record knows by that name, or by a name that begins with it; None where nobody
    could be meant but themselves. A row's id is the name to go on with.

    `known`: the people of the case; `locks`: title of the point and owner of each lock that is on; `here`: who sits at
    this terminal."""
    names = {folded(p.name): p.name for p in known} | {folded(owner): owner for _, owner in locks}
    own, begun = folded(person.name), folded(person.name) + " "
    meant = [name for key, name in names.items() if key == own or key.startswith(begun)]
    if not meant or meant == [here] or not person.named:
        return None
    rows = []
    for name in meant:
        on = [one_line(point) for point, owner in locks if same_name(owner, name)]
        rows.append(Row(name, f"yes, I am {name}", f"locks on: {', '.join(on)}" if on else "was here before"))
    taken = set(names)
    other = person.name
    if own in taken:
        other = next(n for n in (f"{person.name} ({k})" for k in count(2)) if folded(n) not in taken)
    rows.append(Row(other, f"no, somebody else: {other}"))
    return ChooseOne("ARE YOU THE SAME PERSON?", tuple(rows), digits=True, marks=False)
