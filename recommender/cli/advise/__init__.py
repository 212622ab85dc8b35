"""Verbs that advise on a case."""
