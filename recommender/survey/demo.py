"""The demo: an invented cast for a case, made when first needed and never stored."""

import hashlib

from recommender.survey.generate.arch import GeneratedArch
from recommender.survey.generate.opposing import Opposing
from recommender.survey.generate.plan import Plan
from recommender.survey.generate.spoil import Flaws, spoilt
from recommender.survey.generate.surface import arch_mesh
from recommender.survey.mesh import Mesh
from recommender.survey.surveying import Dentition


def demo_arch(dentition: Dentition, name: str) -> GeneratedArch:
    """The invented arch for a case, the same for the same name and teeth."""
    seed = int.from_bytes(hashlib.sha256(name.encode()).digest()[:4], "big") % 100_000
    gone = tuple(
        tooth for tooth in range(11, 49) if tooth % 10 in range(1, 9) and tooth not in dentition.standing
    )
    third = any(tooth % 10 == 8 for tooth in dentition.standing)
    quadrants = (1, 2) if dentition.arch == "maxilla" else (3, 4)
    missing = tuple(tooth for tooth in gone if tooth // 10 in quadrants and (third or tooth % 10 <= 7))
    return GeneratedArch(Plan(dentition.arch, missing, seed, drift=0.3, third_molars=third))


def demo_mesh(dentition: Dentition, name: str, edge_mm: float = 0.25) -> Mesh:
    """An invented scan for a case, with the flaws of a scanner."""
    return spoilt(arch_mesh(demo_arch(dentition, name), edge_mm), Flaws(holes=2, blobs=2, spikes=10), 1)


def demo_opposing(dentition: Dentition, name: str) -> Mesh:
    """An invented opposing arch in light contact with the invented cast, in its frame."""
    arch = demo_arch(dentition, name)
    return Opposing(arch, arch_mesh(arch, 0.4)).mesh
