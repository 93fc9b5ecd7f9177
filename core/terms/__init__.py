"""Words that are spoken everywhere: what was chosen, what was found, what went wrong, how near is near enough.

Doors: `choices.Choices`, `findings.Finding`, `errors.InputError`, `remedies.Remedy`.
"""
