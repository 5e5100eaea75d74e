"""Flue, duct runs, bypass loop and climate in ``survey.toml`` of the invented job."""

from __future__ import annotations

from airtally.demo.simulate import World
from airtally.demo.toml_text import entry


def passage_entries(world: World, *, has_works: bool) -> list[str]:
    """Return what gas and air pass through, as the contractor looked at it."""
    around = "garage" if world.plan.leak_is_garage else "outdoors"
    entries = [
        entry(
            "[[flue]]",
            id="chimney",
            serves="fireplace",
            wall="masonry",
            place="on an exterior wall",
            height="21 ft",
            width="11 in",
            depth="11 in",
            opening="6.5 ft2",
            hearth_height="4 ft (3 to 5)",
            burn_time="3 h (2 to 5)",
        ),
        entry(
            "[[duct_run]]",
            id="trunk",
            side="return",
            zone=around,
            length="14 ft",
            width="20 in",
            depth="8 in",
            insulation="bare metal",
            around_heating="not measured",
        ),
        entry(
            "[[duct_run]]",
            id="to-bedrooms",
            side="supply",
            zone=around,
            length="24 ft",
            width="10 in",
            insulation="insulation not known",
            insulation_thickness="1.5 in",
            flow="260 cfm +- 15 %",
        ),
    ]
    if has_works:
        entries.append(
            entry(
                "[bypass]",
                diameter="8 in",
                rigid_length="8 ft",
                flex_length="4 ft",
                flex_compression="10 % (4 to 20)",
                bends=3,
                backdraft_dampers=1,
                trunk_width="20 in",
                trunk_height="8 in",
                straight_before="3 ft",
                tap_distance="8 ft",
                straight_after="not accessible",
                discharge="return trunk",
                wanted_clean_air="200 cfm",
            )
        )
    entries.append(
        entry(
            "[climate]",
            heating_degree_days="6400 degF day",
            cooling_degree_days="350 degF day",
            design_temperature="4 degF",
            weather_factor="0.6 1/h",
            heated_to="68 degF",
            cooled_to="77 degF",
        )
    )
    return entries
