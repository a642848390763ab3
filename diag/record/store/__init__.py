"""Entries as they are stored and read, what follows from them at a machine, and the daily seal."""
