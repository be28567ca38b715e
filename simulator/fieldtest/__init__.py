"""The field test room: recorded runs of some builds -> drag and rolling figures, and a verdict.

May import ``ride``, ``recordings`` and below. Start reading at ``testday.py`` (what people
write), then ``legs.py`` (a run as something to ride), ``infer.py``, ``verdict.py`` and
``runplan.py``.
"""
