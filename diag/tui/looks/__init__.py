"""How things look on a screen: themes, signs of states, phases of flashing lamps, numbers and names as words."""
