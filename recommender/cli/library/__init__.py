"""Verbs that build and look after a library."""
