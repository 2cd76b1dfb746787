"""How whoever looks after a server sees that it works: health, figures, its log, what is wrong with an installation."""
