"""Published instances of the travelling-salesman problem, with the least lengths that are published for them.

burma14, ulysses16, ESC07 and ESC11 are of TSPLIB (G. Reinelt, ORSA Journal on Computing 3, 1991), as copies of it in
public repositories have them; the least lengths are those of its lists: 3323, 6859, 2125, 2075. P01 is of J. Burkardt's
collection of TSP data sets: 15 cities, least tour 291.
"""

import math
from typing import Final

from server.planning.ordering_problem import Pair

BURMA14: Final = """
16.47 96.10, 16.47 94.44, 20.09 92.54, 22.39 93.37, 25.23 97.24, 22.00 96.05, 20.47 97.02,
17.20 96.29, 16.30 97.38, 14.05 98.12, 16.53 97.38, 21.52 95.59, 19.41 97.13, 20.09 94.55
"""
ULYSSES16: Final = """
38.24 20.42, 39.57 26.15, 40.56 25.32, 36.26 23.12, 33.48 10.54, 37.56 12.19, 38.42 13.11, 37.52 20.44,
41.23 9.10, 41.17 13.05, 36.08 -5.21, 38.47 15.13, 38.15 15.35, 37.51 15.17, 35.49 14.32, 39.36 19.56
"""
P01: Final = """
0 29 82 46 68 52 72 42 51 55 29 74 23 72 46
29 0 55 46 42 43 43 23 23 31 41 51 11 52 21
82 55 0 68 46 55 23 43 41 29 79 21 64 31 51
46 46 68 0 82 15 72 31 62 42 21 51 51 43 64
68 42 46 82 0 74 23 52 21 46 82 58 46 65 23
52 43 55 15 74 0 61 23 55 31 33 37 51 29 59
72 43 23 72 23 61 0 42 23 31 77 37 51 46 33
42 23 43 31 52 23 42 0 33 15 37 33 33 31 37
51 23 41 62 21 55 23 33 0 29 62 46 29 51 11
55 31 29 42 46 31 31 15 29 0 51 21 41 23 37
29 41 79 21 82 33 77 37 62 51 0 65 42 59 61
74 51 21 51 58 37 37 33 46 21 65 0 61 11 55
23 11 64 51 46 51 51 33 29 41 42 61 0 62 23
72 52 31 43 65 29 46 31 51 23 59 11 62 0 59
46 21 51 64 23 59 33 37 11 37 61 55 23 59 0
"""
# Paths from the first to the last, one way only; -1 where the column comes before the row.
ESC07: Final = """
0 0 0 0 0 0 0 0 1000000
-1 0 100 200 75 0 300 100 0
-1 400 0 500 325 400 600 0 0
-1 700 800 0 550 700 900 800 0
-1 -1 250 225 0 275 525 250 0
-1 -1 100 200 -1 0 -1 -1 0
-1 -1 1100 1200 1075 1000 0 1100 0
-1 -1 0 500 325 400 600 0 0
-1 -1 -1 -1 -1 -1 -1 -1 0
"""
ESC11: Final = """
0 0 0 0 0 0 0 0 0 0 0 0 1000000
-1 0 387 440 682 657 584 688 708 362 357 927 0
-1 -1 0 10 935 439 127 769 498 836 341 956 0
-1 -1 -1 0 596 865 70 513 512 373 824 220 0
-1 319 277 439 0 428 212 412 771 620 651 605 0
-1 -1 -1 60 988 0 326 279 687 295 738 270 0
-1 312 158 704 881 696 0 277 413 396 268 156 0
-1 512 939 784 271 432 771 0 279 436 31 444 0
-1 875 927 364 629 419 788 923 0 858 761 139 0
-1 365 43 766 924 845 437 395 991 0 980 359 0
-1 978 839 918 822 885 276 96 537 211 0 608 0
-1 864 168 211 455 543 904 412 535 954 971 0 0
-1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 -1 0
"""


def rows_of(text: str) -> list[list[int]]:
    """A matrix."""
    return [[int(word) for word in line.split()] for line in text.strip().splitlines()]


def geographical(text: str) -> list[list[int]]:
    """Distances of places given as degrees and minutes, by the formula of TSPLIB 95, 2.4 (its pi and its radius)."""
    places = [tuple(_radians(float(word)) for word in place.split()) for place in text.split(",")]
    return [
        [0 if i == j else _distance(*one, *other) for j, other in enumerate(places)] for i, one in enumerate(places)
    ]


def _radians(degrees: float) -> float:
    whole = math.trunc(degrees)
    return 3.141592 * (whole + 5.0 * (degrees - whole) / 3.0) / 180.0


def _distance(north: float, east: float, other_north: float, other_east: float) -> int:
    q1, q2, q3 = math.cos(east - other_east), math.cos(north - other_north), math.cos(north + other_north)
    return int(6378.388 * math.acos(0.5 * ((1.0 + q1) * q2 - (1.0 - q1) * q3)) + 1.0)


def paths_of(rows: list[list[int]]) -> dict[Pair, int]:
    """Every way from one to another."""
    return {(i, j): rows[i][j] for i in range(len(rows)) for j in range(len(rows)) if i != j}


def opened(rows: list[list[int]]) -> list[list[int]]:
    """The round trip as a path: the first place is there once more as the last."""
    again = [*rows, rows[0]]
    return [[*row, row[0]] for row in again]
