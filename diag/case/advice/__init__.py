"""The likely causes and the next thing to do, for the facts of one case, with the reasons in words."""
