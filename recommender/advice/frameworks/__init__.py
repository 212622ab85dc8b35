"""Whole frameworks: from candidates to the few best designs."""
