"""Modules and chains, written out into ordinary entries before any name is looked up."""
