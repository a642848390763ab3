"""From what a person says or a file writes to the states of an indication: bands, codes, words."""
