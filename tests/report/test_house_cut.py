"""The cut through the house: marks tied to the table, widths to scale, words apart and in the frame, for any house.

What is checked here is a matter of drawing, with no source outside the project: widths against the record's own values,
words by the advance widths in the font's file.
"""

from __future__ import annotations

import copy
import io
import re
from itertools import combinations
from typing import Any
from xml.etree import ElementTree

import pytest
import typst
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from invented_record import build_record, q, survey_only
from matplotlib.image import imread

from airtally.record import plain, validate
from airtally.report import words
from airtally.report.account_rows import account_rows
from airtally.report.cut.house_cut import CutSheet, house_cut
from airtally.report.cut.measures import PHONE, WIDE
from airtally.report.cut.rooms import fitted
from airtally.report.drawing import Drawing, font_folder
from airtally.report.hookup_svg import ROOM_FOR_OTHER_FONTS, text_width
from airtally.report.words import forbidden_claims

Document = dict[str, Any]
SVG = "{http://www.w3.org/2000/svg}"
LONG = "the room that nobody ever gave a short name, with Donaudampfschifffahrtsgesellschaftskapitaensmuetze"
KINDS = ("room", "basement", "crawlspace", "attic", "garage")
FLOORS = {"room": 0, "basement": -1, "crawlspace": -1, "attic": 2, "garage": 0}
SOURCES = ("outdoor", "cooking", "solid_fuel", "other", "garage", "buffer_space", "candle_incense")
SINKS = ("filter", "air_exchange", "settling", "cleaner", "portable")


def zone(index: int, kind: str, name: str, floor: int | None = None) -> Document:
    """Return an invented space."""
    found = {"id": f"z{index}", "name": name, "kind": kind, "is_occupied": kind == "room"}
    return found | {"floor": FLOORS[kind] if floor is None else floor, "floor_basis": "default"}


def house(zones: list[Document], **other: Any) -> Document:
    """Return an invented house."""
    bare = {"zones": zones, "has_air_handler": True, "ducts": [], "appliances": [], "cleaners": [], "sources": []}
    return bare | other


def account(entering: list[float], leaving: list[float], missing: float) -> Document:
    """Return an invented account of given grams a day that closes by its stored line."""
    total = sum(entering) + missing

    def grams(value: float) -> Document:
        return q(value, value - 0.3 * abs(value) - 1e-5, value + 0.8 * abs(value) + 1e-5, "g/day")

    return {
        "in": [
            {"folio": folio, "name": source.replace("_", " "), "path": "room side", "source": source,
             "grams_per_day": grams(value)}
            for folio, (source, value) in enumerate(zip(SOURCES, entering, strict=False), start=1) if folio != 7
        ],
        "out": [
            {"folio": "abcde"[index], "name": sink.replace("_", " "), "sink": sink, "grams_per_day": grams(value)}
            for index, (sink, value) in enumerate(zip(SINKS, leaving, strict=False))
        ],
        "stored": grams(total - sum(leaving)),
        "not_assigned": grams(missing),
        "total": grams(total),
    }  # fmt: skip


def with_house(surveyed: Document, made: Document | None) -> Document:
    """Return the invented record with another house and, as its only one, another account."""
    document = build_record()
    document["house"] = surveyed
    document["phases"] = {"after": document["phases"]["after"]}
    if made is None:
        del document["phases"]
    else:
        document["phases"]["after"]["account"] = made
    return plain(document)


PLAIN = account([0.055, 0.026, 0.02, 0.005, 0.003, 0.003], [0.039, 0.032, 0.022, 0.012, 0.004], 0.002)
DEMO = house(
    [
        zone(0, "room", "living room, kitchen, hall"), zone(1, "room", "bedrooms over the garage", 1),
        zone(2, "basement", "family room, lower level"), zone(3, "basement", "workshop"),
        zone(4, "basement", "utility room"), zone(5, "garage", "two-car garage under the bedrooms"),
    ],
    sources=[
        {"source": "cooking", "zone": "z0"}, {"source": "solid_fuel", "zone": "z0"},
        {"source": "other", "zone": "z3"}, {"source": "garage", "zone": "z5"},
    ],
    ducts=[{"what": "return leak", "zone": "z5"}, {"what": "supply duct", "zone": "z5"}],
    appliances=[{"kind": "furnace", "zone": "z4"}, {"kind": "water heater", "zone": "z4"}],
    cleaners=[{"name": "bypass", "zone": None, "is_portable": False}],
)  # fmt: skip
NINE = house(
    [
        zone(0, "room", LONG), zone(1, "room", "living room"), zone(2, "room", "hall"), zone(3, "room", "bath", 1),
        zone(4, "room", LONG, 1), zone(5, "room", "bedroom", 1), zone(6, "attic", LONG), zone(7, "crawlspace", LONG),
        zone(8, "garage", LONG),
    ],
    sources=[{"source": "cooking", "zone": "z0"}, {"source": "buffer_space", "zone": "z7"}],
    ducts=[{"what": "supply duct", "zone": "z6"}, {"what": "return duct", "zone": "z7"}],
)  # fmt: skip
CASES: dict[str, Document] = {
    "demo of six": with_house(DEMO, PLAIN),
    "two": with_house(house([zone(0, "room", "all rooms"), zone(1, "crawlspace", "crawlspace")]), PLAIN),
    "nine with long names": with_house(NINE, PLAIN),
    "one without a fan": with_house(house([zone(0, "room", "room")], has_air_handler=False), PLAIN),
    "a flat below the ground": with_house(house([zone(0, "basement", "flat")]), PLAIN),
    "no list of spaces": plain(build_record()),
    "zero and below": with_house(DEMO, account([0.05, 0.0, -0.002], [0.03, 0.0, 0.0], -0.01)),
    "nothing moves": with_house(DEMO, account([0.0, 0.0], [0.0, 0.0], 0.0)),
    "hair's breadth": with_house(DEMO, account([0.09, 1e-6, 2e-5, 1e-4], [1e-6, 0.06, 0.03], 1e-7)),
    "all goes outdoors": with_house(DEMO, account([0.09], [0.0, 0.09], 0.0)),
    "no readings": with_house(DEMO, None),
    "survey only": plain(survey_only()),
}
BOTH = [(name, sheet) for name in CASES for sheet in CutSheet]


def tree(drawing: Drawing) -> ElementTree.Element:
    return ElementTree.fromstring(drawing.svg)  # noqa: S314 - our own text


def placed_words(drawing: Drawing) -> list[tuple[str, float, float, float, float]]:
    """Return each text with left, right, baseline and size, with room for a wider font; marks are as wide as they are."""
    found = []
    for element in tree(drawing).iter(f"{SVG}text"):
        size, text = float(element.get("font-size", "0")), element.text or ""
        width = text_width(text, size, int(element.get("font-weight", "400")))
        width *= 1.0 if re.fullmatch(r"[a-z]|\d+", text) else ROOM_FOR_OTHER_FONTS
        x = float(element.get("x", "0"))
        left = x - {"start": 0.0, "middle": 0.5, "end": 1.0}[element.get("text-anchor", "start")] * width
        found.append((text, left, left + width, float(element.get("y", "0")), size))
    return found


def marks(drawing: Drawing) -> dict[str, tuple[float, float, str]]:
    """Return middle and ring colour of each folio mark."""
    found = {}
    children = list(tree(drawing))
    for colour, ring, text in zip(children, children[1:], children[2:], strict=False):
        if ring.tag == f"{SVG}circle" and ring.get("r") == "10" and text.tag == f"{SVG}text":
            assert text.text not in found, f"mark {text.text} stands twice"
            found[str(text.text)] = (float(ring.get("cx", "0")), float(ring.get("cy", "0")), str(colour.get("fill")))
    return found


def ribbon_widths(drawing: Drawing) -> list[float]:
    """Return the width of each closed or dashed ribbon where it meets the mixed air, as its outline is drawn."""
    found = []
    number = r"(-?[\d.]+)"
    outline = re.compile(
        rf"M{number},{number}H{number}C{number},{number} {number},{number} {number},{number}V{number}C"
    )
    for path in tree(drawing).iter(f"{SVG}path"):
        drawn = outline.match(path.get("d", ""))
        if drawn:
            found.append(float(drawn[10]) - float(drawn[9]))
    return found


def clashes(drawing: Drawing) -> list[tuple[str, str]]:
    said = placed_words(drawing)
    return [
        (one[0], two[0])
        for one, two in combinations(said, 2)
        if one[1] < two[2] and two[1] < one[2] and abs(one[3] - two[3]) < 0.75 * min(one[4], two[4])
    ]


def outside(drawing: Drawing) -> list[str]:
    root = tree(drawing)
    width, height = float(root.get("width", "0")), float(root.get("height", "0"))
    return [
        text
        for text, left, right, y, size in placed_words(drawing)
        if left < 0.0 or right > width or y - 0.8 * size < 0.0 or y > height - 3.0
    ]


def check_all(document: Document, sheet: CutSheet) -> None:
    """Raise unless a drawing keeps every rule that holds for any house."""
    drawing = house_cut(document, sheet_kind=sheet)
    root = tree(drawing)
    assert root.findtext(f"{SVG}title") == drawing.title
    assert root.findtext(f"{SVG}desc") == drawing.sentence
    assert clashes(drawing) == []
    assert outside(drawing) == []
    assert forbidden_claims(" ".join([drawing.sentence, *(text for text, *_ in placed_words(drawing))])) == []
    assert not re.search(r"nan|inf\b", drawing.svg)
    rows = account_rows(document)
    if rows is None:
        assert marks(drawing) == {}
        return
    lines = [line for line in (*rows.entering, *rows.leaving) if line.now is not None]
    folios = [line.folio for line in lines]
    assert sorted(marks(drawing)) == sorted(folios) == sorted(row[0] for row in drawing.rows)
    middles = [(x, y) for x, y, _ in marks(drawing).values()]
    assert all(abs(one[0] - two[0]) > 24.0 or abs(one[1] - two[1]) > 24.0 for one, two in combinations(middles, 2))
    values = sorted(abs(line.now["value"]) for line in lines if line.now and line.now["value"])
    widths = sorted(ribbon_widths(drawing))
    assert len(widths) == len(values)
    if values:
        scale = widths[-1] / values[-1]
        assert widths == pytest.approx([scale * value for value in values], abs=0.0021)  # printed to a thousandth


@pytest.mark.parametrize(("name", "sheet"), BOTH)
def test_marks_widths_words_and_frame_hold_for_each_case(name: str, sheet: CutSheet) -> None:
    assert validate(CASES[name]) == []
    check_all(CASES[name], sheet)


zones_drawn = st.lists(
    st.tuples(
        st.sampled_from(KINDS), st.integers(-2, 3), st.text(alphabet="abcdefghij MWmw", min_size=1, max_size=70)
    ).map(lambda made: (made[0], made[1], made[2].strip() or "x")),
    min_size=1,
    max_size=12,
)
amounts = st.one_of(st.just(0.0), st.floats(1e-7, 0.2))


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    zones=zones_drawn,
    entering=st.lists(amounts, max_size=7),
    leaving=st.lists(amounts, max_size=5),
    missing=st.floats(-0.05, 0.05),
    places=st.lists(st.integers(0, 11), min_size=5, max_size=5),
    has_handler=st.booleans(),
)
def test_any_house_of_one_to_twelve_spaces_can_be_drawn(
    zones: list[tuple[str, int, str]],
    entering: list[float],
    leaving: list[float],
    missing: float,
    places: list[int],
    has_handler: bool,
) -> None:
    made = [zone(index, kind, name, floor) for index, (kind, floor, name) in enumerate(zones)]
    sources = [
        {"source": source, "zone": f"z{place}"}
        for source, place in zip(("cooking", "solid_fuel", "other", "garage", "buffer_space"), places, strict=True)
    ]
    surveyed = house(made, sources=sources, has_air_handler=has_handler)
    surveyed["cleaners"] = [{"name": "bypass", "zone": None, "is_portable": False}]
    surveyed["appliances"] = [{"kind": "furnace", "zone": "z0"}, {"kind": "boiler", "zone": "z1"}]
    document = with_house(surveyed, account(entering, leaving, missing) if entering or leaving else None)
    for sheet in CutSheet:
        check_all(document, sheet)


def test_phases_are_drawn_to_one_scale_so_that_they_can_be_laid_side_by_side() -> None:
    document = plain(build_record())
    for phase in ("before", "after"):
        drawing = house_cut(document, phase=phase)
        value = document["phases"][phase]["account"]["in"][1]["grams_per_day"]["value"]
        most = max(entry["account"]["total"]["value"] for entry in document["phases"].values())
        expected = WIDE.mixed_height * value / most
        assert any(width == pytest.approx(expected, abs=0.0021) for width in ribbon_widths(drawing)), phase
    with pytest.raises(KeyError, match=r"'between' has no account; those with one: before, after"):
        house_cut(document, phase="between")


def test_ticks_stand_at_the_ends_of_the_interval() -> None:
    drawing = house_cut(CASES["demo of six"])
    kitchen = PLAIN["in"][1]["grams_per_day"]
    scale = WIDE.mixed_height / PLAIN["total"]["value"]
    _, y, _ = marks(drawing)["2"]
    ends = [y + side * 0.5 * scale * kitchen[end] for end in ("low", "high") for side in (-1.0, 1.0)]
    drawn = [float(at) for at in re.findall(r"V(-?[\d.]+)m-4,0h8", drawing.svg)]
    starts = [float(at) for at in re.findall(r"M[\d.]+,(-?[\d.]+)h8M", drawing.svg)]
    for end in ends:
        assert any(at == pytest.approx(end, abs=0.01) for at in (*drawn, *starts)), end


def test_ribbon_keeps_its_sources_colour_and_is_grey_after_the_air_mixes() -> None:
    found = marks(house_cut(CASES["demo of six"]))
    colours = {folio: colour for folio, (_, _, colour) in found.items()}
    assert colours["1"] == "#332288"
    assert colours["3"] == "#882255"
    assert {colours[letter] for letter in "abcde"} == {"#B4AB9C"}
    assert len({colours[number] for number in "123456"}) == 6


def test_without_colour_each_ribbon_is_still_named_by_its_mark() -> None:
    """Each ribbon has a mark on its own middle line, whatever its colour; the one that rises has it on the rising part."""
    level = re.compile(r"M(-?[\d.]+),(-?[\d.]+)H(-?[\d.]+)C")
    for name, sheet in BOTH:
        drawing = house_cut(CASES[name], sheet_kind=sheet)
        on_lines = {(round(y, 1), x) for x, y, _ in marks(drawing).values()}
        named = 0
        for path in tree(drawing).iter(f"{SVG}path"):
            drawn = level.match(path.get("d", ""))
            outline = re.search(r"V(-?[\d.]+)C[^V]*H[^V]*$", path.get("d", ""))
            if drawn is None:
                continue
            start, top, straight = (float(part) for part in drawn.groups())
            bottom = float(path.get("d", "").split(" ")[-1].split(",")[1].split("H")[0]) if outline else top
            middle = 0.5 * (top + bottom)
            low, high = sorted((start, straight))
            named += any(abs(y - middle) < 0.11 and low - 1.0 <= x <= high for y, x in on_lines)
        rows = account_rows(CASES[name])
        lines = [line for line in (*rows.entering, *rows.leaving) if line.now] if rows else []
        rising = sum(line.kind == "air_exchange" for line in lines)
        assert named == len(lines) - rising, (name, sheet)


def test_a_line_below_zero_stands_on_the_other_side_and_keeps_its_mark() -> None:
    drawing = house_cut(CASES["zero and below"])
    found = marks(drawing)
    assert found["7"][0] > WIDE.mixed
    assert found["3"][0] > WIDE.mixed
    assert found["3"][2] == "#B4AB9C"  # it takes from the mixed air, so it has no source's colour
    assert any(text == f"not assigned {words.MINUS}10" for text, *_ in placed_words(drawing))
    assert "stroke-dasharray" in drawing.svg


def test_the_house_is_drawn_without_readings_and_says_so() -> None:
    for sheet in CutSheet:
        drawing = house_cut(CASES["no readings"], sheet_kind=sheet)
        said = " ".join(text for text, *_ in placed_words(drawing))
        assert "no readings yet" in said
        assert "mg a day" not in said
        assert drawing.rows[0][0] == "living room, kitchen, hall"


def test_spaces_stand_at_their_floors_and_buffers_at_their_places() -> None:
    heights = {text: y for text, _, _, y, _ in placed_words(house_cut(CASES["demo of six"]))}
    assert heights["bedrooms over the garage"] < heights["living room, kitchen, hall"]
    assert heights["living room, kitchen, hall"] < heights["two-car garage under the bedrooms"] < heights["workshop"]
    nine = placed_words(house_cut(CASES["nine with long names"]))
    first = [y for text, _, _, y, _ in nine if text.startswith("the room")]
    assert min(first) < next(y for text, _, _, y, _ in nine if text == "hall") < max(first)


def test_long_names_are_cut_with_three_dots_and_said_whole_to_a_readers_voice() -> None:
    drawing = house_cut(CASES["nine with long names"])
    said = [text for text, *_ in placed_words(drawing)]
    assert sum(text.endswith("...") for text in said) >= 4
    assert drawing.sentence.count(LONG) == 5
    assert fitted("bed room", 500.0, 13.0, 600, 3) == ("bed room",)
    assert fitted("one two three four", 30.0, 13.0, 600, 2) == ("one", "tw...")
    assert len(fitted(LONG, 60.0, 13.0, 600, 3)) == 3


def test_phone_folds_rooms_and_leaves_figures_to_the_table() -> None:
    drawing = house_cut(CASES["demo of six"], sheet_kind=CutSheet.PHONE)
    assert tree(drawing).get("width") == str(int(PHONE.width)) == "358"
    said = [text for text, *_ in placed_words(drawing)]
    assert "5 rooms" in said
    assert "garage" in said
    assert not any(text.startswith("kitchen") for text in said)
    assert {float(ring.get("r", "0")) for ring in tree(drawing).iter(f"{SVG}circle")} >= {10.0}  # 20 px across


def test_a_source_whose_room_nobody_wrote_down_is_said() -> None:
    said = " ".join(text for text, *_ in placed_words(house_cut(CASES["nine with long names"])))
    assert "In which room is not surveyed: 3, 4 and 5." in said


def test_an_account_that_does_not_close_says_by_how_much() -> None:
    document = copy.deepcopy(CASES["demo of six"])
    document["phases"]["after"]["account"]["out"][0]["grams_per_day"]["value"] += 0.02
    rows = account_rows(document)
    assert rows is not None
    assert rows.difference.startswith("The two sides do not close: 20 mg a day more goes out than comes in.")
    said = " ".join(text for text, *_ in placed_words(house_cut(document)))
    assert "do not close: 20 mg a day" in said
    rows = account_rows(CASES["demo of six"])
    assert rows is not None
    assert rows.difference == ""


def test_both_columns_keep_lines_that_only_the_first_phase_has() -> None:
    document = plain(build_record())
    extra = copy.deepcopy(document["phases"]["before"]["account"]["in"][0]) | {"folio": 9, "name": "candles"}
    document["phases"]["before"]["account"]["in"].append(extra)
    rows = account_rows(document)
    assert rows is not None
    line = next(line for line in rows.entering if line.folio == "9")
    assert rows.figure(line.now) == "none"
    assert rows.figure(line.before) == "19"
    assert "9" not in marks(house_cut(document))


def test_names_from_the_survey_are_text_and_never_markup() -> None:
    document = with_house(house([zone(0, "room", "<b>&x</b>")]), PLAIN)
    root = tree(house_cut(document))
    assert root.find(f".//{SVG}b") is None
    assert any(text.text == "<b>&x</b>" for text in root.iter(f"{SVG}text"))


def test_smallest_word_prints_at_eight_and_a_half_points_across_a_page() -> None:
    """A page of the report is 6.9 inch wide between its margins: 496.8 points."""
    smallest = min(size for *_, size in placed_words(house_cut(CASES["demo of six"])))
    assert smallest * 6.9 * 72.0 / WIDE.width >= 8.5


def test_the_report_engine_sets_the_cut_with_its_ribbons_and_words() -> None:
    for sheet in CutSheet:
        svg = house_cut(CASES["demo of six"], sheet_kind=sheet).svg.replace("'Barlow Semi Condensed'", "'Barlow'")
        source = b'#set page(width: 7.5in, height: auto)\n#image(bytes(sys.inputs.svg), format: "svg", width: 100%)'
        made = typst.compile(
            source,
            font_paths=[font_folder()],
            ignore_system_fonts=True,
            format="png",
            ppi=60.0,
            sys_inputs={"svg": svg},
        )
        picture = (imread(io.BytesIO(bytes(made)))[..., :3] * 255.0).round().astype(int).reshape(-1, 3)
        seen = {tuple(int(part) for part in pixel) for pixel in picture}
        assert {(0x88, 0x22, 0x55), (0x33, 0x22, 0x88), (0xB4, 0xAB, 0x9C), (0x1F, 0x1B, 0x16)} <= seen
