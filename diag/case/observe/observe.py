"""What a person says or types, as an observation. Each kind has its own module beside this one: `from_lamp`,
`from_display`, `from_contact` and `from_reading`. The name of a state is taken as it is. `Case.observe` enters it."""

from __future__ import annotations

from diag.case.observe.from_contact import of_ohms
from diag.case.observe.from_display import of_code
from diag.case.observe.from_reading import of_reading
from diag.case.observe.observation import Observation, plain
from diag.machine.model import Indication, Kind
from diag.machine.states.say import state_of
from diag.text import clean


def of_words(indication: Indication, text: str) -> Observation:
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
