"""Stations in line: a lamp at each port tells whether the cable is sound, and whether there is traffic on it.

Ahead of a break there is traffic. At both ends of the broken cable the lamps are dark. Behind it the stations still
see each other, and hear nothing. (Common practice: look between the last good and the first lost station.)
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from diag.machine.chain_parts import Chain, Member, Part, node_of, words
from diag.machine.span import Plain

LINK: Final[dict[str, Plain]] = {
    "lamp": "green",
    "normal": "traffic",
    "states": {"traffic": "flicker", "still": "steady", "dark": "off"},
}
POWER: Final[dict[str, Plain]] = {"lamp": "green", "normal": "lit"}
LOOK: Final[dict[str, Plain]] = {
    "title": "Look at the lamps of {member}",
    "do": "Look at the lamps of {member}; note which flicker, stand still or are dark",
    "with": "eyes",
    "access": "outside",
    "minutes": "0.3",
}


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
    head = chain.says("head")
    at_head = f"{chain.id}-head"
    if head is not None and isinstance(head.value, str) and head.value:
        at_head = head.value
    else:
        over = (chain.says("lamp"), head if head is not None and isinstance(head.value, dict) else None)
        named = {**words(chain, 0), "member": chain.title}
        lamp = node_of({**LINK, "title": "{chain}, link lamp at its head"}, chain.node)
        yield Part("indications", at_head, lamp, over, chain.node, named)
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
    return _Station(
        member, lamp("in", True), lamp("out", goes_on), lamp("power", chain.word("power-lamps", "each") == "each")
    )


def _lamps(chain: Chain, k: int, station: _Station) -> Iterator[Part]:
    """The lamps that are not there already, and one look at all of them."""
    member, named = station.member, words(chain, k)
    made: list[Plain] = []
    for field, id, title, lamp, over in (
        ("in", station.enters, "{member}, link lamp IN", LINK, "lamp"),
        ("out", station.leaves, "{member}, link lamp OUT", LINK, "lamp"),
        ("power", station.power, "{member}, power lamp", POWER, "power"),
    ):
        if id and field not in member.says:
            node = node_of({**lamp, "title": title}, member.at)
            yield Part("indications", id, node, (chain.says(over),), member.at, named)
            made.append(id)
    if made:
        look = node_of({**LOOK, "gives": made}, member.at)
        overs = (chain.says("check"), member.says.get("check"))
        yield Part("checks", f"{chain.id}-{member.id}-look", look, overs, member.at, named)


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
    member = station.member
    for field, end, title, shows in (
        ("cable", "cable", "Cable from {before} to {member} broken, or its plug loose", broken),
        ("station", "dead", "{member} dead", dead),
    ):
        cause = node_of({"title": title, "part": chain.title, "often": "occasional", "shows": shows}, member.at)
        over = (chain.says(field), member.says.get(field))
        yield Part("causes", f"{chain.id}-{member.id}-{end}", cause, over, member.at, words(chain, k))
