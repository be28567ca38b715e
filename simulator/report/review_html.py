"""The page of a recorded ride beside the predicted one, with the furniture of the other pages."""

from __future__ import annotations

from markupsafe import Markup

from simulator.report import charts, labels, page, review_words, tables
from simulator.report.review_output import stop_table, suspect_table, where_table
from simulator.report.review_view import ReviewView


def review_page(view: ReviewView) -> str:
    """The page of a review as HTML text; all text is escaped, see `page.gap_page`."""
    along = view.along
    script = "".join(page.template_text(name) for name in ("sort.js", "along.js", "page.js"))
    found = [
        where_table(view) if along.places else None,
        tables.corner_table(along),
        tables.lap_table(along),
        suspect_table(view),
        stop_table(view),
    ]
    return (
        page.environment()
        .get_template("review.html.j2")
        .render(
            review=view,
            view=along,
            facts=labels.course_facts(along),
            how_ranked=review_words.HOW_RANKED,
            sign_rule=review_words.SIGN_RULE,
            summary=tables.summary_table(along),
            tables={table.key: table for table in found if table is not None},
            panels=charts.stack_panels(along),
            km_ticks=charts.distance_ticks(along),
            shades=charts.shades(along),
            laps_pct=[100.0 * m / along.course.distance_m for m in labels.shown_laps_m(along)],
            plan=charts.plan_chart(along.plan, along.measures),
            inputs=page.grouped_inputs(along.inputs),
            data=Markup(page.cursor_json(along)),
            **page.furniture(script),
        )
    )
