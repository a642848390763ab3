"""The fields of the language: what each is, its help, an example of it, and to what kind of name it refers.

This is the one place where that stands. All else is derived from it: the JSON Schema, the forms in messages, the
repairs of the reader, the places of names, and the reference page.
"""
