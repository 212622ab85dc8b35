"""Teeth, cases, options and the Kennedy class: plain validated values, and reading them from files."""
