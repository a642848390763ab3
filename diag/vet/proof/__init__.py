"""The proof that no path leads to work inside an enclosure without the gate."""
