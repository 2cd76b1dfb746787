"""Before the show: what stays of a site, whether a chain can work, how it is threaded, and in which order of houses.

Pure as the timeline is: it reads no file, no clock and no database, and imports nothing of ours but `server.timeline`.
"""
