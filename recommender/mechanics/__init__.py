"""Arch geometry, clasp flexure, space, levers, visibility, connectors: pure functions on numbers."""
