"""A folder of YAML files to a tree of nodes that know their place."""
