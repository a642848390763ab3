"""The language of the machine files: read, checked with file, line and column for every problem, and resolved.

`load.load(folder)` gives a `Machine` (see `model`) and all problems; `load.read(folder)` the machine, or one clear
line. `find.listing` and `find.find` tell which machines there are. `say.state_of` turns what a person says of an
indication into its state. Nothing here knows a probability or a screen.
"""
