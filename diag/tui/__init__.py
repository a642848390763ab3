"""The app in the terminal: shows a case and turns keys and clicks into events.

`app.run` opens it. Screens are in `screens/`, what they are made of in `widgets/`, how things look in `looks/`. Every
key is a row of a table (`key_table.py`), every help text is data (`screen_help.py`), every colour is in `diag.tcss`.
Nothing here computes a belief, decides an access, or knows of SQL or YAML: a screen asks the `Case` and posts events to
it.
"""
