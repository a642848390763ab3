"""The case screen: its plain parts in `parts/`, the panes that draw them, and the screen that wires the two."""
