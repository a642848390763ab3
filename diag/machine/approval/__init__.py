"""How far a machine's file may be trusted, and the digest that an approval is held against."""
