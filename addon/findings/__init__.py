"""Findings kept on the envelope, their places shown, their remedies written.

Doors: `shown_findings.keep_findings`, `remedy_writers.write_change`.
"""
