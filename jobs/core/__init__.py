"""The pure heart of a job: entries, items, the fold, the flow. No Django, no clock, no I/O."""
