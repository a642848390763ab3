"""Meter readings as people write them: `meter.parse` reads one; `accuracy` and `plausible` say how far to trust it."""
