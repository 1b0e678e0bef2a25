"""The chronometer's detent escapement in motion: (D1) to (D4) of docs/physics.md."""
