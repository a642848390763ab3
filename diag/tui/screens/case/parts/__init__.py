"""The plain parts of the case screen: what is asked, typed, advised and said, and what a key does. No Textual here."""
