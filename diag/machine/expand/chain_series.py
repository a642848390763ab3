"""Contacts in series: voltage is there up to the one that is open."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from diag.machine.expand.chain_parts import Chain, Member, Part, part_of
from diag.machine.expand.parameters import unmarked
from diag.machine.language.fields.base_source import names, written
from diag.machine.language.fields.cause_fields import CauseSource
from diag.machine.language.fields.check_fields import CheckSource
from diag.machine.language.fields.field_types import is_number
from diag.machine.language.fields.module_fields import ContactMember, SeriesSource
from diag.machine.language.fields.panel_fields import OPEN, ReadingSource
from diag.machine.language.fields.sections import Sections
from diag.machine.model import Access
from diag.machine.span import Plain

_SERIES, _MEMBER, _SECTION, _READING = names(SeriesSource), names(ContactMember), names(Sections), names(ReadingSource)

NOMINAL: Final = "24"
"""Volts at a test point, where the chain does not say otherwise."""


def series_parts(chain: Chain) -> Iterator[Part]:
    """For each member the cause that it, or its wire, is open; for each place between two the voltage, and its check.

    A member that is an indication already usually shows `open` itself, or the state that it says: the wire beside it
    may be what is open.
    """
    members = chain.members
    measured = chain.word(_SERIES.test_points, "between") == "between"
    points = members[:-1] if measured else ()
    for k, member in enumerate(points):
        yield from _point(chain, k, member)
    for k, member in enumerate(members):
        shows: dict[str, Plain] = {after(chain, behind): "absent" for behind in points[k:]}
        if member.there:
            state = member.says.get(_MEMBER.open)
            shows[member.word] = {str(state.value) if state is not None else OPEN: "usually"}
        cause = written(
            CauseSource, title="{member} open, or its wire broken", part=chain.title, often="occasional", shows=shows
        )
        yield part_of(chain, k, _SECTION.causes, f"{member.id}-open", cause, _SERIES.cause)


def after(chain: Chain, member: Member) -> str:
    """The indication of the voltage behind a member."""
    return f"{chain.id}-after-{member.id}"


def _point(chain: Chain, k: int, member: Member) -> Iterator[Part]:
    title = "{chain}: voltage after {member}"
    nominal = NOMINAL
    for node in (chain.says(_SERIES.point), member.says.get(_MEMBER.point)):
        said = node.value.get(_READING.nominal) if node is not None and isinstance(node.value, dict) else None
        if said is not None and isinstance(said.value, str):
            nominal = unmarked(said.value)
    half = f"{float(nominal) / 2:g}" if is_number(nominal) else "12"
    reading = written(
        ReadingSource,
        reading="V d.c.",
        title=title,
        nominal=nominal,
        normal="present",
        bands={"absent": f"< {half}", "present": f">= {half}"},
        source="there or not, with half the nominal voltage as the limit (common practice)",
    )
    yield part_of(chain, k, _SECTION.indications, f"after-{member.id}", reading, _SERIES.point)
    check = written(
        CheckSource,
        title=title,
        gives=after(chain, member),
        do="Measure at the terminal between {member} and {after}, against minus",
        with_="multimeter on V d.c., CAT III",
        access=Access.LIVE.value,
        minutes="3",
    )
    yield part_of(chain, k, _SECTION.checks, f"test-{member.id}", check, _SERIES.check)
