"""Stations in line: a lamp at each port tells whether the cable is sound, and whether there is traffic on it.

Ahead of a break there is traffic. At both ends of the broken cable the lamps are dark. Behind it the stations still
see each other, and hear nothing. (Common practice: look between the last good and the first lost station.)
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from diag.machine.expand.chain_parts import Chain, Member, Part, laid_under, node_of, part_of, words
from diag.machine.language.fields.base_source import names, written
from diag.machine.language.fields.cause_fields import CauseSource
from diag.machine.language.fields.check_fields import CheckSource
from diag.machine.language.fields.module_fields import LineSource, StationMember
from diag.machine.language.fields.panel_fields import LampSource
from diag.machine.language.fields.sections import Sections
from diag.machine.model import Access
from diag.machine.span import Plain

_LINE, _MEMBER, _SECTION = names(LineSource), names(StationMember), names(Sections)
LINK: Final = written(
    LampSource, lamp="green", normal="traffic", states={"traffic": "flicker", "still": "steady", "dark": "off"}
)
POWER: Final = written(LampSource, lamp="green", normal="lit")
LOOK: Final = written(
    CheckSource,
    title="Look at the lamps of {member}",
    do="Look at the lamps of {member}; note which flicker, stand still or are dark",
    with_="eyes",
    access=Access.OUTSIDE.value,
    minutes="0.3",
)


@dataclass(frozen=True, slots=True)
class _Station:
    """A station with the names of its lamps; empty where it has none."""

    member: Member
    enters: str
    leaves: str
    power: str


def line_parts(chain: Chain) -> Iterator[Part]:
    """For each station the causes that it is dead and that the cable to it is broken; its lamps, and a look at them."""
    stations = tuple(_station(chain, k, member) for k, member in enumerate(chain.members))
    head = chain.says(_LINE.head)
    if head is not None and isinstance(head.value, str) and head.value:
        at_head = head.value
    else:
        at_head = f"{chain.id}-head"
        made = node_of(LINK | written(LampSource, title="{chain}, link lamp at its head"), chain.node)
        own = head if head is not None and isinstance(head.value, dict) else None
        lamp = laid_under(made, chain.says(_LINE.lamp), own)
        yield Part(_SECTION.indications, at_head, lamp, chain.node, words(chain, 0) | {"member": chain.title})
    for k, station in enumerate(stations):
        yield from _lamps(chain, k, station)
    for k, station in enumerate(stations):
        yield from _causes(chain, k, station, stations[k - 1].leaves if k else at_head, stations[k + 1 :])


def _station(chain: Chain, k: int, member: Member) -> _Station:
    def lamp(field: str, made: bool) -> str:
        given = member.says.get(field)
        if given is not None and isinstance(given.value, str):
            return given.value
        return f"{chain.id}-{member.id}-{field}" if made else ""

    goes_on = k + 1 < len(chain.members)
    powered = chain.word(_LINE.power_lamps, "each") == "each"
    return _Station(member, lamp(_MEMBER.in_, True), lamp(_MEMBER.out, goes_on), lamp(_MEMBER.power, powered))


def _lamps(chain: Chain, k: int, station: _Station) -> Iterator[Part]:
    """The lamps that are not there already, and one look at all of them."""
    member = station.member
    made: list[Plain] = []
    for field, id, title, lamp, says in (
        (_MEMBER.in_, station.enters, "{member}, link lamp IN", LINK, _LINE.lamp),
        (_MEMBER.out, station.leaves, "{member}, link lamp OUT", LINK, _LINE.lamp),
        (_MEMBER.power, station.power, "{member}, power lamp", POWER, _LINE.power),
    ):
        if id and field not in member.says:
            plain = lamp | written(LampSource, title=title)
            yield part_of(chain, k, _SECTION.indications, f"{member.id}-{field}", plain, says)
            made.append(id)
    if made:
        look = LOOK | written(CheckSource, gives=made)
        yield part_of(chain, k, _SECTION.checks, f"{member.id}-look", look, _LINE.check)


def _causes(chain: Chain, k: int, station: _Station, ahead: str, behind: tuple[_Station, ...]) -> Iterator[Part]:
    """`ahead`: the lamp at the other end of the cable to this station; `behind`: the stations that come after it."""
    still: dict[str, Plain] = {id: "still" for other in behind for id in (other.enters, other.leaves) if id}
    broken: dict[str, Plain] = {**still, ahead: "dark", station.enters: "dark"}
    dead = dict(broken)
    if station.leaves:
        broken[station.leaves] = "still"
        dead[station.leaves] = "dark"
    if behind:
        dead[behind[0].enters] = "dark"
    if station.power:
        dead[station.power] = "dark"
    for field, end, title, shows in (
        (_LINE.cable, _LINE.cable, "Cable from {before} to {member} broken, or its plug loose", broken),
        (_LINE.station, "dead", "{member} dead", dead),
    ):
        cause = written(CauseSource, title=title, part=chain.title, often="occasional", shows=shows)
        yield part_of(chain, k, _SECTION.causes, f"{station.member.id}-{end}", cause, field)
