"""Verbs that teach and evaluate."""
