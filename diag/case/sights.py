"""What a person says or types, as a sight (`sighting`); each kind has its own module: `lamps`, `displays`, `contacts`,
`readings`. Words that are the name of a state are taken as they are. A sight is posted with `Case.sight`."""

from __future__ import annotations

from diag.case.contacts import of_ohms
from diag.case.displays import of_code
from diag.case.readings import of_reading
from diag.case.sighting import Sighting, plain
from diag.case.words import clean
from diag.machine.model import Indication, Kind
from diag.machine.say import state_of


def of_words(indication: Indication, text: str) -> Sighting:
    """What a person says or types: a state, a display's code, a reading, a contact's ohms. Raises CannotRead."""
    said = clean(text)
    if said in indication.state_ids:
        return plain(indication, said)
    match indication.kind:
        case Kind.DISPLAY:
            return of_code(indication, text)
        case Kind.READING:
            return of_reading(indication, said)
        case Kind.CONTACT if said[:1].isdigit() or said[:1] in "<>.,+-" or said.upper().startswith("OL"):
            if indication.measured == "continuity":
                return of_ohms(indication, said)
    return plain(indication, state_of(indication, text), said)
