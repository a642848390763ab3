"""The panes of the case screen: widgets that draw the plain parts, and say which of them was picked."""
