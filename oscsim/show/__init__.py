"""Results in, text and pictures out; nothing is computed here."""
