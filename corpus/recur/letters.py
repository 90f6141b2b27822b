"""The letters by which figures of one account are told apart."""


def letter(number: int) -> str:
    """The letter of a figure counted from 0: A to Z, then A2 and so on."""
    turn, place = divmod(number, 26)
    return "ABCDEFGHIJKLMNOPQRSTUVWXYZ"[place] + (str(turn + 1) if turn else "")
