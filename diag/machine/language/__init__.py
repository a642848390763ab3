"""The one description of every field of the machine files, and what is derived from it."""
