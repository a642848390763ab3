"""Lamps: `flash` says how one looks over time, `taps` which pattern was tapped, `dead_lamp` what a dark one tells."""
