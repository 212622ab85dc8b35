"""Taking in a case."""
