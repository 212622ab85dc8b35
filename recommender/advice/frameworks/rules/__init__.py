"""Rules between the parts of a framework."""
