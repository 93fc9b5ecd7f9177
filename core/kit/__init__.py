"""Everything that an export is made from: distinct plates, marks, joints, figures, findings.

Doors: `draft.Draft`, `assemble.assemble`; the record `kit.Kit`.
"""
