"""The report room: shows results as terminal tables, pictures, pages, CSV and JSON.

Computes nothing. Start reading at ``views.py``.
"""
