"""The arch drawing of a design, in ink: an SVG of our own look, the same on screen, in a file and in print.

Seen facing the patient, as on laboratory cards and in textbooks: the patient's right on the viewer's left, the
upper arch with its front up, the lower arch with its front down. The one door is :func:`arch_drawing`.
"""

from recommender.documents.drawing.arch import Drawing, Spot, arch_drawing

__all__ = ["Drawing", "Spot", "arch_drawing"]
