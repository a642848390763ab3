"""Authored trees: walking one over the facts. `walk.walk` says where a tree stands; nothing here reads or writes."""
