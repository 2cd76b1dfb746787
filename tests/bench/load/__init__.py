"""What a server holds: many desks and fast contacts, many runs, a long log, and desks that come back at once."""
