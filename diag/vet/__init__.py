"""What can only be said of a machine file with numbers, trees or examples at hand.

`examples.replay(machine, example)` plays one worked example through a case and says what does not hold.
"""
