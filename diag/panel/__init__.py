"""What can be read off a machine: flashes, segments, contacts, meters, and the handbook formulas behind readings.

Pure functions and small frozen types. Nothing here knows a file, a machine or a screen, and nothing here needs more
than the standard library. What a sight is worth is given as P(seen | state), up to a common factor, and never says
what was expected. Import the module that is meant:

* `meter.parse` reads a number as a person writes it (`units` knows the units), `meter.implausible` asks about one that
  cannot be; `accuracy.band_weights` spreads a reading near a limit over its bands.
* `flash.parse` says how a lamp looks over time; `taps.recognise` finds the pattern that somebody tapped along with,
  `taps.held` the one that a key was held along with; `lamps.through` allows for a lamp that may be dead.
* `segments.render` draws a display; `decode.likelihoods` finds the code behind a doubtful sight, `decode.fault_belief`
  the fault of the display itself (`display_faults`).
* `contacts` judges a contact by ohms or volts, and names a contradiction between it and its lamp.
* `formulas.FORMULAS` has the derived readings by name; each formula's own module has its source: `three_phase`,
  `cable`, `pt100`, `loop`, `discharge`, `bus`, `insulation`, `cycle`.
* `worked.WORKED` holds what the derived readings must give, each with its source; `tap_trials`, `decode_trials` and
  `fuzz` measure how often the room is right, and what hostile input does. `diag measure` prints all four.
"""
