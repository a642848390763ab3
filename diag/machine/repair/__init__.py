"""Slips of the pen: found in the text, reported at their own line, and mended in memory where one meaning is left."""
