"""What is wrong with machine files, and what makes no sense in them.

`vet_machine(folder)` gives all problems of a machine as values: those of the loader, and those of the rules.
`rules.catalogue` holds every rule with its reason and its examples; `report` tells them in words and as SARIF.
`examples.replay_example` plays one worked example through a case and says what does not hold.
`proof.prove` walks every path of a machine and shows that none leads inside an enclosure without the gate.
"""

from diag.vet.run import vet_machine

__all__ = ["vet_machine"]
