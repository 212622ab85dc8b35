"""A scanned cast surveyed, confirmed and taken into the case."""
