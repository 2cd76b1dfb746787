"""What an archive holds: killed, cut off and restarted; the taps of a show beside it; many sites; a year of them."""
