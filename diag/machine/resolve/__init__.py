"""Sections of a file to a machine: every name looked up, every default filled in, every problem reported."""
