"""Demo movements of our own invention, one design file each."""
