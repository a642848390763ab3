"""The one theme: a dark, quiet instrument that does not dazzle at night. Lamp colours are variables of their own."""

from textual.theme import Theme

LAMPS = {
    "lamp-red": "#ff5d55",
    "lamp-amber": "#ff9d3c",
    "lamp-yellow": "#f2d43d",
    "lamp-green": "#4fd36e",
    "lamp-blue": "#5aa7ff",
    "lamp-white": "#f4f4ec",
}

NIGHT = Theme(
    name="night",
    dark=True,
    primary="#7fb2dc",
    secondary="#8fa3b5",
    accent="#e3b15f",
    foreground="#cfd6dd",
    background="#11161b",
    surface="#171d24",
    panel="#202831",
    success="#63c07b",
    warning="#e3b15f",
    error="#f0655d",
    variables={"quiet": "#8393a1", "rule": "#33404c", **LAMPS},
)
