"""What can be read off a machine: flashes, segments, contacts, meters, and the handbook formulas behind readings.

Pure functions and small frozen types. Nothing here knows a file, a machine or a screen, and nothing here needs more
than the standard library, so that it loads in a few milliseconds. Import the module that is meant:

* `meter` reads a number as a person writes it; `flash` and `segments` say how a lamp and a display look.
"""
