"""Contacts: what they should be, and what a meter and a lamp say they are."""
