"""Commands about the files of machines: list, show, write, check, try and approve them."""
