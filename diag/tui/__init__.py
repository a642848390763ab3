"""The app in the terminal: shows a case and turns keys and clicks into events.

`app.run` opens it. Screens are in `screens/`, what they are made of in `widgets/`; every key is a row of a table in
`keys.py`, every help text a row in `helps.py`, every colour in `diag.tcss`. Nothing here computes a belief, decides an
access, or knows of SQL or YAML: a screen asks the `Case` and posts events to it.
"""
