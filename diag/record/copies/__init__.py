"""Casebooks from elsewhere and for elsewhere: copies, exports, imports, and books of version 1."""
