"""What a line or a player does, in figures: columns of notes → samples → measures with intervals → comparisons."""
