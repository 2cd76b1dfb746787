"""A plan on paper, pure: what was worked out of it goes in, self-contained pages and a chart come out."""
