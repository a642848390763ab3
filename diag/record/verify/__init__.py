"""Whether a casebook still says what was recorded, and whether the lists beside the entries agree with them."""
