"""The commands, one file each: ``register`` adds the sub-parser; cli.py lists them."""
