"""The hookup's drawing: well formed, spoken, within its frame, grey-proof, and tied to its table by marks and numbers."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from itertools import combinations
from xml.etree import ElementTree

import pytest
import typst
from tests.network.hookup_parts import CFM, CIRCULATE, HEATING, HOOKUP, LOOP, TRUNK, about, plain_fitting

from airtally.network.ducts.hookup import HookupDesign, design_hookup
from airtally.network.ducts.hookup_parts import LoopDuct
from airtally.network.ducts.sensor_place import Candidate, DuctAir, SensorSpot, SensorView, view_of_place
from airtally.physics.filters.loop import TapOrder
from airtally.report.drawing import Drawing, font_folder
from airtally.report.hookup_drawing import Sheet, hookup_drawing
from airtally.report.hookup_svg import ROOM_FOR_OTHER_FONTS, SMALLEST, text_width, wrapped
from airtally.report.hookup_table import HEAD, METRIC_UNITS, hookup_rows
from airtally.report.words import _FORBIDDEN

SVG = "{http://www.w3.org/2000/svg}"
AIR = DuctAir(
    flow=HEATING.flow, filter_efficiency=about(0.65, 0.1), filter_bypass=about(0.02, 0.02),
    leak_before=about(0.02, 0.01), leak_after=about(0.03, 0.01),
)  # fmt: skip


def view(spot: SensorSpot) -> SensorView:
    return view_of_place(Candidate(spot=spot, diameter=0.34), AIR)


@pytest.fixture(scope="module")
def design() -> HookupDesign:
    measured = replace(HEATING, measured_loop_flow=about(218 * CFM, 10 * CFM, "m3/s"))
    return design_hookup(replace(HOOKUP, states=(measured, CIRCULATE)))


@pytest.fixture(scope="module")
def reversed_design() -> HookupDesign:
    blind = replace(HEATING, take_off_static=None, re_entry_static=None, blower=None)
    trunk = replace(TRUNK, order=TapOrder.RETURN_FIRST, tap_distance=None, straight_before=None, straight_after=None)
    return design_hookup(replace(HOOKUP, trunk=trunk, states=(blind,)))


@pytest.fixture(scope="module")
def drawings(design: HookupDesign, reversed_design: HookupDesign) -> dict[str, Drawing]:
    found = {}
    for page in Sheet:
        for spot in SensorSpot if page is Sheet.PHONE else (SensorSpot.RETURN_DROP, SensorSpot.SUPPLY_PLENUM):
            found[f"{page} {spot}"] = hookup_drawing(design, page=page, sensor=view(spot), is_invented=True)
        found[f"{page} reversed"] = hookup_drawing(reversed_design, page=page, units=METRIC_UNITS)
    return found


def placed_words(drawing: Drawing) -> list[tuple[str, float, float, float, float]]:
    """Return each text with left, right, baseline and size, groups' shifts added, measured with room to spare."""
    found = []

    def walk(element: ElementTree.Element, dx: float, dy: float) -> None:
        shift = re.match(r"translate\(([-\d.]+),([-\d.]+)\)", element.get("transform", ""))
        if shift and element.tag == f"{SVG}g":
            dx, dy = dx + float(shift[1]), dy + float(shift[2])
        if element.tag == f"{SVG}text":
            size, text = float(element.get("font-size", "0")), element.text or ""
            width = ROOM_FOR_OTHER_FONTS * text_width(text, size, int(element.get("font-weight", "400")))
            anchor = element.get("text-anchor")
            left = (
                float(element.get("x", "0")) + dx - {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor or "start"] * width
            )
            found.append((text, left, left + width, float(element.get("y", "0")) + dy, size))
        for child in element:
            walk(child, dx, dy)

    walk(ElementTree.fromstring(drawing.svg), 0.0, 0.0)  # noqa: S314 - our own text
    return found


def test_each_drawing_is_well_formed_and_speaks_by_title_and_description(drawings: dict[str, Drawing]) -> None:
    for name, drawing in drawings.items():
        root = ElementTree.fromstring(drawing.svg)  # noqa: S314 - our own text
        title, desc = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
        assert root.get("role") == "img", name
        assert title is not None
        assert desc is not None
        assert title.text == drawing.title
        assert desc.text == drawing.sentence
        assert root.get("aria-labelledby") == f"{title.get('id')} {desc.get('id')}"
        assert "blower off" in drawing.sentence


def test_phone_sheet_is_360_wide_and_paper_prints_at_eight_and_a_half_points(drawings: dict[str, Drawing]) -> None:
    """6.9 inch of text width is 497 points; the smallest word must not print below 8.5 points."""
    for name, drawing in drawings.items():
        width = float(ElementTree.fromstring(drawing.svg).get("width", "0"))  # noqa: S314 - our own text
        smallest = min(size for *_, size in placed_words(drawing))
        assert smallest >= SMALLEST
        if name.startswith("phone"):
            assert width == 360.0
        else:
            assert smallest * 6.9 * 72.0 / width >= 8.5


def test_words_stay_inside_the_frame_even_in_a_wider_font(drawings: dict[str, Drawing]) -> None:
    for name, drawing in drawings.items():
        root = ElementTree.fromstring(drawing.svg)  # noqa: S314 - our own text
        width, height = float(root.get("width", "0")), float(root.get("height", "0"))
        outside = [
            (name, text)
            for text, left, right, y, size in placed_words(drawing)
            if left < 0.0 or right > width or y - size < 0.0 or y > height - 2.0
        ]
        assert outside == []


def test_no_two_words_stand_on_each_other(drawings: dict[str, Drawing]) -> None:
    for name, drawing in drawings.items():
        words = placed_words(drawing)
        clashes = [
            (name, one[0], two[0])
            for one, two in combinations(words, 2)
            if one[1] < two[2] and two[1] < one[2] and abs(one[3] - two[3]) < 0.75 * min(one[4], two[4])
        ]
        assert clashes == []


def test_no_two_rings_touch(drawings: dict[str, Drawing]) -> None:
    for name, drawing in drawings.items():
        root = ElementTree.fromstring(drawing.svg)  # noqa: S314 - our own text
        rings = [
            (float(one.get("cx", "0")), float(one.get("cy", "0")))
            for one in root.findall(f"{SVG}circle")  # the drawing's own; the key's stand in groups
            if one.get("r") == "10" and one.get("stroke-width") == "1.2" and one.get("fill") != "none"
        ]
        assert len(rings) >= 7
        close = [(name, one, two) for one, two in combinations(rings, 2) if math.dist(one, two) < 21.2]
        assert close == []


def test_every_mark_on_the_drawing_is_explained_and_none_is_explained_twice(drawings: dict[str, Drawing]) -> None:
    for name, drawing in drawings.items():
        marks = sorted(text for text, *_ in placed_words(drawing) if re.fullmatch(r"\d", text))
        expected = "1234567" if "reversed" in name else "12345678"
        assert marks == sorted(expected * 2), name


def test_drawing_needs_no_colour_and_paper_no_ground(drawings: dict[str, Drawing]) -> None:
    """Grey-proof: ink, its two greys, paper grounds; nothing else, so nothing is said by hue."""
    for drawing in drawings.values():
        used = set(re.findall(r"#[0-9A-Fa-f]{6}", drawing.svg))
        ground = "#FDFBF5" if 'width="360"' in drawing.svg else "#FFFFFF"  # paper is white
        assert used == {"#1F1B16", "#554D42", "#DDD5C3", "#D5CBB6", ground}


def test_figures_on_the_drawing_are_the_designs_own_and_stand_in_the_table(
    design: HookupDesign, drawings: dict[str, Drawing]
) -> None:
    drawing = drawings[f"{Sheet.PAPER} {SensorSpot.RETURN_DROP}"]
    said = [text for text, *_ in placed_words(drawing)]
    assert drawing.head == HEAD
    cells = {cell for row in drawing.rows for cell in row}
    for figure, interval in (("218 cfm", "208 to 228"), ("1,010 cfm", "960 to 1,060"), ("792 cfm", "741 to 843")):
        assert figure in said
        assert interval in said
        if figure != "1,010 cfm":
            assert {figure, interval} <= cells
    assert "8.0 ft" in said
    assert {"8.0 ft", "7.8 to 8.2"} <= cells
    own = f"{design.blower_off.recirculated.value:.0%}"
    assert any(text.startswith(f"{own} (") for text in said)
    assert any("10 in round" in cell for cell in cells)
    assert "A \N{MINUS SIGN}0.19 in. w.c." in said


def test_metric_job_is_drawn_in_metric_units(design: HookupDesign) -> None:
    drawing = hookup_drawing(design, units=METRIC_UNITS, page=Sheet.PHONE)
    said = " ".join(text for text, *_ in placed_words(drawing))
    assert "103 L/s" in said  # 218 cfm by hand: 218 x 0.4719474
    assert "2.44 m" in said
    assert "254 mm round" in said
    assert not re.search(r"\bcfm\b|\bft\b|w\.c\.", said + " ".join(c for row in drawing.rows for c in row))


def test_what_was_not_measured_is_said_on_the_drawing_and_reversed_taps_too(drawings: dict[str, Drawing]) -> None:
    drawing = drawings[f"{Sheet.PHONE} reversed"]
    said = [text for text, *_ in placed_words(drawing)]
    assert said.count("measured") == 3
    assert "A not measured" in said
    assert "B not measured" in said
    assert "Taps reversed: exchange 1 and 2." in said
    assert any(row[1] == "between the taps" and row[2] == "not measured" for row in drawing.rows)
    heights = {text: y for text, _, _, y, _ in placed_words(drawing) if text in ("1", "2")}
    usual = {
        text: y
        for text, _, _, y, _ in placed_words(drawings[f"{Sheet.PHONE} {SensorSpot.RETURN_DROP}"])
        if text in ("1", "2")
    }
    assert heights.keys() == usual.keys() == {"1", "2"}
    assert "Taps reversed" not in " ".join(
        text for text, *_ in placed_words(drawings[f"{Sheet.PHONE} {SensorSpot.RETURN_DROP}"])
    )


def test_dampers_that_the_loop_lacks_are_neither_drawn_nor_explained() -> None:
    bare: LoopDuct = replace(LOOP, fittings=(plain_fitting(0.5, name="exit"),))
    drawing = hookup_drawing(design_hookup(replace(HOOKUP, loop=bare)), page=Sheet.PHONE)
    said = [text for text, *_ in placed_words(drawing)]
    assert not {"3", "4"} & set(said)
    assert not any("damper" in text for text in said)


def test_names_from_the_job_are_text_and_never_markup(design: HookupDesign) -> None:
    hookup = replace(design.hookup, cleaner=replace(design.hookup.cleaner, name="unit <b>&x</b>"))
    drawing = hookup_drawing(replace(design, hookup=hookup), page=Sheet.PHONE)
    root = ElementTree.fromstring(drawing.svg)  # noqa: S314 - our own text
    assert root.find(f".//{SVG}b") is None
    assert any("<b>&x</b>" in text for text, *_ in placed_words(drawing))


def test_nothing_on_drawing_or_table_promises(drawings: dict[str, Drawing], design: HookupDesign) -> None:
    for drawing in drawings.values():
        said = " ".join(
            [drawing.sentence, *(t for t, *_ in placed_words(drawing)), *(c for r in drawing.rows for c in r)]
        )
        for pattern in _FORBIDDEN:
            assert not re.search(pattern, said, re.IGNORECASE), (pattern, said)
    assert any("licensed people" in text for text in design.cautions)


def test_font_travels_with_the_drawing_only_when_asked(design: HookupDesign) -> None:
    alone = hookup_drawing(design, carries_font=True).svg
    assert "@font-face" in alone
    ElementTree.fromstring(alone)  # noqa: S314 - our own text
    assert "@font-face" not in hookup_drawing(design).svg


def test_report_engine_sets_the_drawing(design: HookupDesign) -> None:
    svg = hookup_drawing(design).svg.replace("'Barlow Semi Condensed'", "'Barlow'").encode()
    source = b'#set page(width: 7.5in, height: auto, margin: 0.3in)\n#image(bytes(sys.inputs.svg), format: "svg", width: 100%)'
    made = typst.compile(
        source,
        font_paths=[font_folder()],
        ignore_system_fonts=True,
        format="png",
        ppi=40.0,
        sys_inputs={"svg": svg.decode()},
    )
    assert bytes(made).startswith(b"\x89PNG")


def test_long_words_wrap_within_the_width_they_are_given() -> None:
    text = "Take-off collar, 10 in round, upstream; sealed with mastic and mesh over wide gaps."
    lines = wrapped(text, 200.0, 13.5)
    assert " ".join(lines) == text
    assert len(lines) > 1
    assert all(text_width(line, 13.5) * ROOM_FOR_OTHER_FONTS <= 200.0 for line in lines)


def test_rows_name_the_smallest_duct_and_how_sure_it_is(design: HookupDesign) -> None:
    rows = {row[1]: row[2] for row in hookup_rows(design, METRIC_UNITS)}
    assert rows["smallest duct that holds it"] == "229 mm round; 203 mm may do"
