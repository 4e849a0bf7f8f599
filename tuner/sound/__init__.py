"""Signal analysis by the standards: frames, weightings, bands, levels, tones and decibel sums."""
