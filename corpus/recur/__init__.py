"""What keeps coming back: repeats in many lines, cleaned of what chance explains, gathered into families.

corpus_text (readings of all lines as one text) → repeats (maximal repeats, by suffix array) → chance (how surprising a
repeat is) → families (which repeats belong together, best first).
"""
