"""The kinds of escapement: what a design says of one becomes coefficients of its room in motion."""
