"""Case-based design support for removable partial denture frameworks.

The rooms, in the order in which data passes through them: ``domain`` (a validated case), ``facts``
(what follows from it), ``knowledge`` (the concept graph and its rules), ``precedents`` (stored cases),
``advice`` (candidates, scores, frameworks, explanations), then ``documents``, ``curation``, ``screens``
and ``cli``. See DEVELOPERS.md.
"""

__version__ = "0.1.0"
