"""Commands that measure how good the program is, and grow test trees from raw tables."""
