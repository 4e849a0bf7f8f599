"""Training: rehearsal scenes with known contents, and the fit of the signature model on them."""
