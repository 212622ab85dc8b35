"""Cases on their way out of a library."""
