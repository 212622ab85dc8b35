"""Invented arches whose survey is known in closed form: the test bench, and the demo cast. No patient stands behind
one."""
