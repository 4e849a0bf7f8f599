"""The rehearsal rig: a simulated overflow that is heard through a simulated microphone."""
