"""Practice sheets: a figure in other keys or over a progression, inside the range of an instrument."""
