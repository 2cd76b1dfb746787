"""The site of the example plan, invented: nine houses in three booths, with paths that no plan uses yet."""

from server.planning.site import parse_site

_BOOTHS = {"North": ("1", "2", "3"), "Centre": ("4", "5", "6"), "South": ("7", "8", "9")}
_PATHS = (
    *(("3", "1", 44, 6), ("1", "2", 52, 8), ("2", "5", 212, 22), ("5", "4", 61, 9), ("4", "6", 48.5, 7)),
    *(("6", "9", 258, 26), ("9", "8", 66, 8), ("8", "7", 54.5, 7)),
    *(("2", "3", 71.5, 9), ("1", "5", 240, 24), ("9", "7", 118.5, 14)),
)
_HOUSES = "\n".join(
    f'[[houses]]\nhouse = "{house}"\nbooth = "{booth}"\n' for booth, houses in _BOOTHS.items() for house in houses
)
_WALKS = "\n".join(
    f'[[walks]]\nfrom = "{one}"\nto = "{other}"\nwalk_s = {walk_s}\n'
    for one, other, walk_s in (("North", "Centre", 400), ("Centre", "South", 400), ("North", "South", 400))
)
SITE = "\n".join(
    [
        'format = "festoon-site/1"\nsite = "Larkspur Nine, Harrow Falls"\n',
        _HOUSES,
        *(
            f'[[paths]]\nfrom = "{one}"\nto = "{other}"\npath_ft = {feet}\nrollers = {rollers}\n'
            for one, other, feet, rollers in _PATHS
        ),
        _WALKS,
    ]
)
CALLED = parse_site(SITE, "larkspur.site.toml").site
