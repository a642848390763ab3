"""What is wrong with machine files, and what makes no sense in them.

`vet(paths)` gives all problems as values: those of the loader, and those of the rules in `sense.RULES`.
`examples.replay(machine, example)` plays one worked example through a case and says what does not hold.
"""

from diag.vet.sense import RULES, vet

__all__ = ["RULES", "vet"]
