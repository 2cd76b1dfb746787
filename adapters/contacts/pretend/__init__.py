"""Contacts without hardware: boxes with inputs, input modules and serial servers, as a port meets them.

They are written from the documents and standards alone, and import no client library. The tests hold the ports against
them, and `festoon contacts --pretend` plays them for a crew. `wires`, `listener` and `gateway` carry bytes, `box` and
`modules` speak, `parts` stand in for the feeds of a wiring file, and `orders` read what whoever plays says.
"""
