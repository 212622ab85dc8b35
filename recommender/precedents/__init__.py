"""Stored situations, their encoding, and exact nearest neighbours."""
