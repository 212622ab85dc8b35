"""Ink drawings of a survey as SVG, in data units (mm), black on white or turned round; readable in one colour."""
