"""Exact nearest neighbours over rows of codes and difference tables."""
