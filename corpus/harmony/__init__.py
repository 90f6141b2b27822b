"""What chords mean: symbols, charts, keys, functions and the roles of notes."""
