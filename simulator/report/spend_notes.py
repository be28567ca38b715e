"""Cautions, doubts and notes that stand beside what a budget buys."""

from __future__ import annotations

from simulator.measures import Measures
from simulator.report import spend_words, words
from simulator.report.views import NoteView
from simulator.spend import LEAST_S, Spending


def spend_notes(
    spending: Spending, cluster_notes: tuple[str, ...], measures: Measures
) -> tuple[NoteView, ...]:
    """All notes of an answer; ``cluster_notes`` is what is to be said about the machines."""
    notes = [
        NoteView(level="caution", text=spend_words.UNKNOWN_TO_A_CATALOGUE),
        NoteView(level="caution", text=words.CAUTION),
        NoteView(level="note", text=spend_words.HOW_FOUND),
    ]
    doubts = [answer.doubt for answer in spending.budgets if answer.doubt is not None]
    stopped = max((doubt.n_stopped for doubt in doubts), default=0)
    if stopped:
        notes.append(
            NoteView(level="doubt", text=words.stopped_sentence(stopped, spending.n_draws))
        )
    if not doubts and any(answer.best.parts for answer in spending.budgets):
        notes.append(NoteView(level="doubt", text=spend_words.NO_DRAWS))
    if spending.gap_s is not None and spending.target is not None and spending.gap_s <= LEAST_S:
        text = spend_words.no_gap_sentence(spending.build.name, spending.target.name)
        notes.append(NoteView(level="note", text=text))
    if spending.unused:
        text = spend_words.unused_sentence([part.name for part in spending.unused])
        notes.append(NoteView(level="note", text=text))
    notes += [NoteView(level="note", text=text) for text in cluster_notes]
    for race in spending.plan:
        for finding in race.course.findings:
            if finding.level == "doubt":
                notes.append(
                    NoteView(level="doubt", text=f"{race.name}: {measures.said(finding.text)}")
                )
    return tuple(notes)
