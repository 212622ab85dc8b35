"""Cases on their way into a library."""
