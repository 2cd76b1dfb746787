"""Contacts: motors, lamps, dousers, cue detectors and failsafes that close an electrical contact.

`wiring` reads the file that says which wire is what. `settling`, `lines`, `inputs` and `rollcall` are pure, and know
neither clock nor port. `feed` brings them together with a port. Each kind of port is one file with a `KIND`: `text`,
`modem` and `modbus`; `server/contact_boards.py` lists the kinds there are.
"""
