"""The knowledge that advice is given by: the packaged rules, or those adopted in their place."""

from recommender.knowledge import adopted, packaged
from recommender.knowledge.load import forget_packaged, packaged_knowledge
from recommender.knowledge.model import Knowledge


def knowledge() -> Knowledge:
    """The packaged knowledge, or the rules adopted in the folder that ``RPD_CASEBOOK_RULES`` names, read once.

    ``CaseError`` tells everything that is wrong with the data.
    """
    folder = packaged.adopted_folder()
    if folder is None:
        return packaged_knowledge()
    return adopted.knowledge(folder)


def forget() -> None:
    """Drop the cached knowledge, so that changed files are read anew."""
    packaged.forget()
    adopted.forget()
    forget_packaged()
