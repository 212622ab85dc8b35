"""The columns of one case: how the facts of each of its layers are made in every world.

Each follows its counterpart in ``recommender.facts`` (``arch``, ``tooth``, ``space``) and calls it; the tests hold
every column to the facts of completed cases. A fact without a counterpart here stays not recorded in the worlds.
"""

from recommender.advice.confidence.arch_columns import of_case
from recommender.advice.confidence.space_columns import of_space
from recommender.advice.confidence.tooth_columns import of_approach, of_tooth
from recommender.advice.confidence.world_fields import CaseColumns, Makers
from recommender.advice.confidence.worlds import Worlds


def columns_of(worlds: Worlds) -> CaseColumns:
    """The facts of a case in these worlds; each is made when it is asked for."""
    return CaseColumns(worlds, Makers(of_case, of_tooth, of_approach, of_space))
