"""Tapping along with a flashing lamp."""
