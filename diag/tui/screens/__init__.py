"""The screens: one module or one folder each, and the boxes that they share."""
