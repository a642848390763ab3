"""What a trainer starts from: the skeleton of a new machine."""
