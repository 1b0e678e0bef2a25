"""One question a file: parts and motion in, a small result object out."""
