"""Simulated stops: how good the knowledge is at telling causes apart."""
