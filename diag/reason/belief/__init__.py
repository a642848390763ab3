"""From facts to a posterior over causes, and how well the facts fit them."""
