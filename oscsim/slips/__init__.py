"""What a bench writes down: readings, findings, and the slip that knows of a design what was measured."""
