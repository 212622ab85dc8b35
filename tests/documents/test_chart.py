"""The interactive chart: one button for each tooth, reachable by keyboard, no state by colour alone."""

import xml.etree.ElementTree as ElementTree

import pytest
from shapely.geometry import Polygon

from recommender.documents.chart import arch_chart, chart
from recommender.domain.dentition import ARCH_ORDER
from tests.documents.conftest import demo_cases

SVG = "{http://www.w3.org/2000/svg}"


def buttons(svg: str) -> dict[int, ElementTree.Element]:
    root = ElementTree.fromstring(svg)
    return {int(group.attrib["data-tooth"]): group for group in root.iter(f"{SVG}g")}


def test_one_button_a_tooth_with_one_tab_stop() -> None:
    found = buttons(chart(demo_cases()["harbour-0001"], selected={44}))
    assert list(found) == list(ARCH_ORDER["mandible"])
    assert all(group.attrib["role"] == "button" for group in found.values())
    assert [tooth for tooth, group in found.items() if group.attrib["tabindex"] == "0"] == [44]
    assert [tooth for tooth, group in found.items() if group.attrib["aria-pressed"] == "true"] == [44]
    assert all(group.find(f"{SVG}title") is not None for group in found.values())
    assert found[46].attrib["aria-label"] == "Tooth 46, to be replaced"
    assert found[48].attrib["aria-label"] == "Tooth 48, absent"
    assert found[44].attrib["aria-label"] == "Tooth 44, standing, surveyed"


def test_states_differ_in_shape_and_not_only_in_colour() -> None:
    svg = arch_chart("maxilla", {11: "missing", 12: "absent", 13: "extraction"}, {14})
    found = buttons(svg)

    def look(tooth: int) -> tuple[int, tuple[str, ...], tuple[str, ...]]:
        paths = found[tooth].findall(f"{SVG}path")
        widths = tuple(path.attrib.get("stroke-width", "") for path in paths)
        dashes = tuple(path.attrib.get("stroke-dasharray", "") for path in paths)
        return len(paths), widths, dashes

    assert len({look(tooth) for tooth in (11, 12, 13, 14, 15)}) == 5
    assert "currentColor" in svg
    assert "#" not in svg.replace("http://www.w3.org/2000/svg", "")


def test_targets_are_large_enough_on_a_phone() -> None:
    """At least 24 by 24 CSS pixels in a chart 390 pixels wide (WCAG 2.2, success criterion 2.5.8)."""
    for arch in ("maxilla", "mandible"):
        svg = arch_chart(arch)
        width = float(ElementTree.fromstring(svg).attrib["viewBox"].split()[2])
        for tooth, group in buttons(svg).items():
            hit = next(
                path for path in group.iter(f"{SVG}path") if path.attrib.get("pointer-events") == "all"
            )
            numbers = hit.attrib["d"].strip("MZ").replace("L", " ").split()
            ring = Polygon(list(zip(map(float, numbers[::2]), map(float, numbers[1::2]), strict=True)))
            left, top, right, bottom = (value * 390 / width for value in ring.bounds)
            assert right - left >= 24, tooth
            assert bottom - top >= 24, tooth


def test_numbering_and_refusals() -> None:
    found = buttons(arch_chart("maxilla", numbering="universal"))
    assert found[18].attrib["aria-label"] == "Tooth 1, standing"
    assert found[18].attrib["data-tooth"] == "18"
    with pytest.raises(ValueError, match="allowed"):
        arch_chart("maxilla", {11: "gone"})
    with pytest.raises(ValueError, match="allowed"):
        arch_chart("maxilla", {41: "missing"})
    picture = chart(demo_cases()["harbour-0001"], interactive=False)
    assert 'role="button"' not in picture
    assert "tabindex" not in picture
