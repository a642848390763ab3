"""What the screens are made of. Each widget is given frozen data and draws it; none of them asks the case."""
