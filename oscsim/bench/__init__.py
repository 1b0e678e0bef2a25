"""At the bench: readings in, diagnosis out. Built on parts, motion and the answers."""
