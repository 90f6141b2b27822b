"""The shelf: kept figures, their file format, comparing and uniting shelves, and when to practise what."""
