"""What the command line can do: one module a verb, and the loops that the verbs share."""
