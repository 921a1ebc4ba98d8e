"""The one reader of jobs: `records` folds a job, `lists` shows many, `verify` checks the chain."""
