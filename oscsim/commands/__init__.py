"""The commands, one file each; a new one is a file with ``register`` and a place in this list."""

from oscsim.commands import band, designs, isochronism, ratemap, rates, rundown, settle

#: In the order in which the help lists them.
COMMANDS = (settle, rundown, rates, isochronism, ratemap, band, designs)
