"""The lesson: one page of sliders on a design, and panels on what a design is for."""
