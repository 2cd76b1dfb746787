"""How many there are, in words."""


def amount(number: int, thing: str) -> str:
    """The number with what it counts: "1 run", "2 runs"; `thing` is one whose plural ends in s."""
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"
