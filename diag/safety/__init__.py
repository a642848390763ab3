"""The lockout gate: who may be shown what, now. Knows what people confirmed; no storage, no screen, no clock.

`Isolation.apply` takes one confirmation; `Isolation.steps` and `Isolation.ways` say which may come next. `permission`
is the one rule that every door passes, `banner` puts its state into words, `danger` finds a danger sign, and `CAUTIONS`
are always said. The walk in `tests/safety` visits every reachable state of a lockout and holds the rule against a
ledger of its own.
"""

from diag.safety.banners import banner
from diag.safety.cautions import AT_THE_GATE, CAUTIONS, Caution
from diag.safety.lockout import Confirmed, Isolation, Lockout, Phase
from diag.safety.permissions import danger, dead_zones, live_zones, permission, shows_danger, tag_stands
from diag.safety.types import Act, Banner, LiveWork, Permission, Person, Refused, Step

__all__ = [
    "AT_THE_GATE",
    "CAUTIONS",
    "Act",
    "Banner",
    "Caution",
    "Confirmed",
    "Isolation",
    "LiveWork",
    "Lockout",
    "Permission",
    "Person",
    "Phase",
    "Refused",
    "Step",
    "banner",
    "danger",
    "dead_zones",
    "live_zones",
    "permission",
    "shows_danger",
    "tag_stands",
]
