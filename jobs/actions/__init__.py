"""The one writer of jobs: first the check, then the write, in one transaction.

`door.post` takes what a tablet sends, entry by entry; `booking` opens a job; `upkeep` does what
the shop does to jobs from outside (withdrawn equipment, erased personal data); `attachments`
keeps pictures. Each entry goes through `chain.append`.
"""
