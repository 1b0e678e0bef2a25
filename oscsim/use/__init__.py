"""The watch in use: the trial of fifteen days, days on the wrist, a diary of daily errors."""
