"""What a screen, a sheet or a command is shown: one frozen picture of a case. Nothing in it needs computing again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from diag.machine.model import Access, Role
from diag.safety import Lockout
from diag.safety.types import Act, Banner, LiveWork, Permission, Person, Step

IN_DOUBT = 0.05
"""A state that fits an observation less than this share of the best one is not named beside it."""


@dataclass(frozen=True, slots=True)
class Fact:
    """One line of the facts so far."""

    seq: int
    at: datetime
    by: str
    indication: str
    title: str
    state: str
    """The likeliest state."""
    seen: Mapping[str, float]
    said: str
    round: int
    before: str
    """By whom it was found before this case; empty when found in it."""
    counts: bool
    """False: taken in the wrong energy state, so it is kept and carries no evidence."""
    why: str
    """Why it does not count, in words."""
    proves: bool
    """It was found after a remedy, as its proof, and is no evidence of the stop."""
    trial: bool = False
    """A check that changes the machine found it: what happened then, not how the machine stands."""

    @property
    def could_be(self) -> tuple[str, ...]:
        """What else the observation fits, `IN_DOUBT` of the likeliest state and more; empty where it is plain."""
        most = self.seen[self.state]
        return tuple(s for s, p in self.seen.items() if s != self.state and p >= IN_DOUBT * most)


@dataclass(frozen=True, slots=True)
class Disagreement:
    """A contact and a lamp that report one thing and do not agree."""

    contact: str
    lamp: str
    name: str
    """In words, with both by their titles."""
    causes: tuple[str, ...]
    """What that can mean, likeliest first."""


@dataclass(frozen=True, slots=True)
class Action:
    """A check, a remedy or a call, as the screen may show it now."""

    kind: str
    """`look` (an implied check, or how a reset went), `check`, `remedy`, `do` (a tree's instruction, or without an id
    what is done before a proof), `reset`, `call`;
    after a remedy also `close` (every proof holds) and `failed` (a proof does not hold: say so, or look again)."""
    id: str
    """The check, remedy or reset; for a tree's instruction the tree, for a call the role, for how a reset went the
    reset."""
    title: str
    permission: Permission
    gives: tuple[str, ...] = ()
    tool: str = ""
    where: str = ""
    minutes: float = 0.0
    access: Access = Access.OUTSIDE
    zone: str = ""
    who: tuple[Role, ...] = tuple(Role)
    why: str = ""
    """What it will tell, or why it is time for it, in words."""
    saved: float = 0.0
    """Expected minutes saved; 0 for what only the tree asks for."""
    how: str = ""
    """The instructions with their caution; empty whenever `permission.how` is false."""
    caution: str = ""
    by_tree: bool = False
    before_call: bool = False
    """It is time to call, and this is to be marked before."""
    leads: tuple[str, ...] = ()
    """A check: what each of its answers would lead to, the likeliest first, a line each."""


@dataclass(frozen=True, slots=True)
class Likely:
    """One cause in the ranking."""

    id: str
    title: str
    part: str
    probability: float


@dataclass(frozen=True, slots=True)
class Two:
    """Two causes at once: ids and titles, the likelier by itself first."""

    causes: tuple[str, str]
    titles: tuple[str, str]
    probability: float
    """Among all single causes and pairs."""


@dataclass(frozen=True, slots=True)
class Weight:
    """What one fact says about one cause, in decibans (10 log10 of the likelihood ratio); above 0 speaks for it."""

    fact: int
    """`seq` of the fact."""
    text: str
    decibans: float


@dataclass(frozen=True, slots=True)
class Advice:
    """What reasoning says about the facts so far."""

    causes: tuple[Likely, ...]
    """All of them, best first, `unlisted` among them."""
    surprise: float | None
    """By how many bits the facts are odder than usual for any single cause; None without facts."""
    checks: tuple[Action, ...]
    """Checks that this role may do and that are worth their minutes, best first."""
    next: Action | None
    """The one next thing: from the tree while it leads, else computed; None when the case is closed or stopped."""
    others: tuple[Action, ...]
    """Two or three alternatives."""
    tree_says: str
    """What the tree concluded or why it no longer leads, in words; may be empty."""
    odd: str = ""
    """What to do about facts that no single cause explains, in one line; empty where one does."""


@dataclass(frozen=True, slots=True)
class ResetCount:
    """How many resets were done and whether one more may be."""

    id: str
    title: str
    done: int
    limit: int
    may: bool
    because: str
    mistaken: tuple[str, ...] = ()
    """Who entered one and took it back, once for each; these stay in the count."""


@dataclass(frozen=True, slots=True)
class Note:
    """What somebody wrote down for whoever comes after them."""

    at: datetime
    by: str
    text: str


@dataclass(frozen=True, slots=True)
class Raised:
    """What showed a danger sign first, and in whose entry."""

    title: str
    """Of the indication."""
    state: str
    by: str
    at: datetime
    case: str
    seq: int


@dataclass(frozen=True, slots=True)
class TagLock:
    """A lock that is on at another machine or asset, at a point that this one has, too, by its tag. It is shown, and
    counts for nothing here."""

    point: str
    """Of this machine."""
    tag: str
    machine: str = ""
    """Where it was put on, as the record knows it."""
    who: str = ""
    """Empty where the list of that tag is not what was entered, so that nobody knows whose locks are on."""
    case: str = ""
    since: datetime | None = None


@dataclass(frozen=True, slots=True)
class DangerTag:
    """A danger tag that stands at the machine."""

    person: str
    """The name on it."""
    point: str
    """The isolation point that it hangs on; empty for elsewhere."""
    where: str
    says: str
    by: str
    """Who found it."""
    at: datetime
    case: str


@dataclass(frozen=True, slots=True)
class ToBeTold:
    """Somebody whose locks or tags were taken off while they were absent, and who does not know it yet."""

    owner: str
    locks: tuple[str, ...]
    """Isolation points."""
    tags: tuple[str, ...]
    """Isolation points; empty for elsewhere."""
    directed_by: str
    removed_by: str
    at: datetime
    case: str


@dataclass(frozen=True, slots=True)
class Entered:
    """When somebody made their latest entry at this machine, in whichever case."""

    person: str
    at: datetime


@dataclass(frozen=True, slots=True)
class CaseState:
    """The case as replayed, without any mathematics: enough for the first paint."""

    id: str
    machine: str
    revision: str
    opened: datetime
    last: datetime
    person: Person
    """For whom this is shown: the person of this sitting."""
    lead: Person
    """Who has the case in hand."""
    round: int
    facts: tuple[Fact, ...]
    """Every fact that was not taken back, oldest first."""
    cannot_tell: tuple[str, ...]
    """Indications that nobody could tell in this round."""
    current: Mapping[str, str]
    """For each indication found, the latest state: what the panel drawing shows."""
    banner: Banner
    energised: bool
    steps: Mapping[str, tuple[Step, ...]]
    """Zone to the confirmations that may be given next there; empty at the gate's end."""
    locks: tuple[tuple[str, str], ...]
    """Isolation point and person, each lock that is on at the machine, in whichever case it was put on."""
    own_locks: tuple[tuple[str, str], ...]
    """Those of them that were put on in this case."""
    own_zones: tuple[str, ...]
    """Zones that are not back and closed and at whose gate something was confirmed in this case."""
    waits: Mapping[str, datetime]
    """Stored energy of zones that are locked out, to the end of its label's wait; until then it is not said to
    be released, and its end alone permits nothing."""
    live: LiveWork | None
    danger: str
    """The instruction of a danger sign; everything else waits while it is not empty."""
    danger_raised: Raised | None
    """Who raised it; None while none stands."""
    danger_call: str
    """The role that the sign says to call; empty while none stands."""
    resets: tuple[ResetCount, ...]
    remedy: str
    """The remedy that was done and awaits its proof; empty when none does."""
    proof: tuple[tuple[str, tuple[str, ...], str], ...]
    """For the remedy that awaits it: indication, states that prove, and the state found this round (or empty)."""
    proved: bool
    """Every fact of the proof is found, after all that is done before it."""
    called: tuple[str, ...]
    closed: str
    """`cured`, `running`, `handed-over`, or empty while open."""
    notes: tuple[Note, ...]
    """Those of a handover and of an end among them, oldest first."""
    ways: Mapping[str, tuple[Step, ...]] = field(default_factory=dict)
    """Zone to what else may be said there: back, power for a test, leave, take back, live work and its end."""
    lockouts: Mapping[str, Lockout] = field(default_factory=dict)
    """Zone to its lockout, as far as it has come."""
    problems: tuple[str, ...] = ()
    """Entries of the record that could not be read or no longer fit the machine, one line each."""
    disagreements: tuple[Disagreement, ...] = ()
    """Between a lamp and a contact that report one thing, as both stand in this round."""

    proof_first: tuple[str, ...] = ()
    """What is still to be done before the proof of the last remedy is looked at, in order."""
    fault_gone: bool = False
    """All of the proof that was seen since the remedy is as it should be. Until it is proved, the fault is gone and the
    machine does not run yet."""
    holds: tuple[str, ...] = ()
    """Stored energies whose hold is in, in the file's order."""
    taken: tuple[tuple[str, str], ...] = ()
    """Zone and thing, each that was taken off inside and is not back."""
    off: tuple[str, ...] = ()
    """Isolation points that are off, in the file's order."""
    ahead: Mapping[str, tuple[tuple[Act, str], ...]] = field(default_factory=dict)
    """Zone to what is still to come on its return to service, each with what it names."""
    proof_ends: Mapping[str, datetime] = field(default_factory=dict)
    """For each zone that is proved dead, when it must be tested again before anything more is begun there."""
    tag_locks: tuple[TagLock, ...] = ()
    """Locks of other machines on what this one shares with them."""
    asset: str = ""
    """The one of the machine's assets that the case is of; empty where it has none."""
    tags: tuple[DangerTag, ...] = ()
    """Those that stand at the machine, the oldest first."""
    to_be_told: tuple[ToBeTold, ...] = ()
    """Who is to be told that a lock or tag of theirs was taken off, the oldest first."""
    entered: tuple[Entered, ...] = ()
    """Everybody who entered something at the machine since it was last at rest."""
    people: tuple[Person, ...] = ()
    """Everybody who was at the keys, as they said last, in the order in which they came."""

    @property
    def countdown(self) -> datetime | None:
        """When the longest of the waits ends."""
        return max(self.waits.values(), default=None)
