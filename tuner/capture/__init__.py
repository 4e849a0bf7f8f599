"""Where sound comes from: the microphone and recordings, as the same blocks."""
