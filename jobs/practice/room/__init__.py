"""A learner's practice job: a vehicle drawn from a seed, instruments on the screen, how it went.

`faults` draws the hidden vehicle, `rig` is its bench, `looking` says what an instrument shows,
`colleague` enters what is only typing, `marking` says how it went, `running` puts them together.
"""
