"""From a mesh as it was drawn to flat panels and the edges between them.

Door: `read_envelope.read_envelope`.
"""
