"""The self-contained page of one ride, with the furniture of the other pages."""

from __future__ import annotations

import json

from markupsafe import Markup

from simulator.report import charts, labels, ride_charts, ride_tables
from simulator.report.page import environment, furniture, grouped_inputs, template_text
from simulator.report.ride_view import RideView


def ride_page(view: RideView) -> str:
    """The page of one ride as HTML text.

    Parameters
    ----------
    view : RideView
        What to show; all of its text is escaped, see `page.gap_page`.
    """
    script = "".join(template_text(name) for name in ("sort.js", "along.js", "ride.js"))
    found = [
        ride_tables.split_table(view),
        ride_tables.place_table(view),
        ride_tables.ride_lap_table(view),
        ride_tables.ride_corner_table(view),
        ride_tables.sitting_table(view),
        ride_tables.work_table(view),
    ]
    return (
        environment()
        .get_template("ride.html.j2")
        .render(
            view=view,
            facts=labels.course_facts(view),
            summary=ride_tables.ride_summary(view),
            tables={table.key: table for table in found if table is not None and table.rows},
            panels=ride_charts.ride_panels(view),
            km_ticks=charts.distance_ticks(view),
            shades=charts.shades(view),
            laps_pct=[100.0 * m / view.course.distance_m for m in labels.shown_laps_m(view)],
            plan=charts.plan_chart(view.plan, view.measures),
            work_bar=ride_charts.bar_parts(view.energy),
            sitting_bar=ride_charts.bar_parts(view.sitting),
            ride_charts=ride_charts,
            ride_css=Markup(template_text("ride.css")),
            inputs=grouped_inputs(view.inputs),
            data=Markup(_data(view)),
            **furniture(script),
        )
    )


def _data(view: RideView) -> str:
    """What the cursor reads, as JSON that no name can break out of."""
    series, measures = view.series, view.measures
    plan = charts.plan_chart(view.plan, measures)
    data = {
        **charts.cursor_data(view),
        "grade": [round(100.0 * grade, 1) for grade in series.grades],
        "speed": [round(v / measures.mps_per_speed, 1) for v in series.speeds_mps],
        "power": [round(w) for w in series.powers_w],
        "reserve": None
        if series.reserve_shares is None
        else [round(100.0 * share, 1) for share in series.reserve_shares],
        "x": [round((e - plan.east_m) * plan.per_m, 1) for e in series.easts_m],
        "y": [round((plan.north_m - n) * plan.per_m, 1) for n in series.norths_m],
    }
    text = json.dumps(data, ensure_ascii=True, separators=(",", ":"), allow_nan=False)
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")
