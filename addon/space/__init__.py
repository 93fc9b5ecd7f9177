"""The scan of the space: squared up, and its room round the drawing worked out and kept.

Door: `clearance_work.ask`.
"""
