"""What is usual: families of movements, laws that fill what nobody measured, and bands of plausible numbers."""
