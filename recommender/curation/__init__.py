"""Approval, conflicts, coverage, outcomes, exercises and evaluation of a case library."""
