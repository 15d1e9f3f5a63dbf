"""The pictures of a record, each as one inline SVG string.

Every picture takes clean rows from `reports.summary`, is the same for the same record,
reads without colour and says in its title and description what it shows.
"""
