"""The lockout gate: who may be shown what, now. Knows what people confirmed; no storage, no screen, no clock.

`Site.apply` takes one confirmation, `Site.steps` and `Site.ways` say which may come next, `permission` is the one
rule that every door passes, `banner` its state in words, `danger` finds a danger sign, `CAUTIONS` what is always said.
The walk in `tests/safety` visits every reachable state of a lockout and holds the rule against a ledger of its own.
"""

from diag.safety.cautions import AT_THE_GATE, CAUTIONS, Caution
from diag.safety.dangers import danger
from diag.safety.lockout import Lockout, Phase, Site
from diag.safety.rule import banner, dead_zones, energised, live_zones, permission
from diag.safety.types import Act, Banner, LiveWork, Permission, Person, Refused, Step

__all__ = [
    "AT_THE_GATE",
    "CAUTIONS",
    "Act",
    "Banner",
    "Caution",
    "LiveWork",
    "Lockout",
    "Permission",
    "Person",
    "Phase",
    "Refused",
    "Site",
    "Step",
    "banner",
    "danger",
    "dead_zones",
    "energised",
    "live_zones",
    "permission",
]
