"""The workshop's own certificate authority, which lets tablets trust its server without internet.

`certificates` makes them, `keeping` keeps them in the data folder and makes them anew in time.
The authority may sign for this computer's names and for private addresses only.
"""
