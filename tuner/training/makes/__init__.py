"""Unlike ways of making the nine kinds of sound and rooms at rest, for the training (see ``otherwise``)."""
