"""What is wrong with machine files, and what makes no sense in them.

`vet(paths)` gives all problems as values: those of the loader, and those of the rules in `sense.RULES`.
`explain.ALL` holds every rule with its reason and its examples, `sarif.log` writes problems for other programs.
`examples.replay(machine, example)` plays one worked example through a case and says what does not hold.
`files.run(folder, count)` mutates a machine's files and sees that every mistake is told at its place.
"""

from diag.vet.sense import RULES, vet

__all__ = ["RULES", "vet"]
