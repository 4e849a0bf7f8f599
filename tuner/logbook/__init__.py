"""The logbook: what was heard, advised and done, in one SQLite file that belongs to the keeper. No audio."""
