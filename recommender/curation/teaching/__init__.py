"""Exercises and learners."""
