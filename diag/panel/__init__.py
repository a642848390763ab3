"""What can be read off a machine: flashes, segments, contacts, meters, and the handbook formulas behind readings.

Pure functions and small frozen types, with nothing but the standard library. What an observation is worth is given as
P(seen | state), up to a common factor, and does not depend on what was expected. How often the room is right is
measured by `diag measure taps`, `codes`, `readings` and `fuzz`.
"""
