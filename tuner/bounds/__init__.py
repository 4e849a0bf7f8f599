"""How much a measurement proves: bounds of mean levels, of rates, and of the differences between two of them."""
