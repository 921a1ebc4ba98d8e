"""The customer's report and the pictures of page and PDF."""
