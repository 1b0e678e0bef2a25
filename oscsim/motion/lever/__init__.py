"""The lever escapement in motion: phases 2 to 8 of docs/physics.md §2."""
