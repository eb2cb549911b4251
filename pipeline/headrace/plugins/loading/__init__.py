"""How code of plugins is found, run and held to the hooks; what is wrong with it, as findings."""
