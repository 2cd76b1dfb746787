"""Going through a run afterwards: played, read, learned from, compared and handed on.

Pure: a plan and stored events go in; states, tables, charts and texts come out.
"""
