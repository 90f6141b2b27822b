"""What a lesson page says, before it looks like anything: chart, figures, map, and when every note sounds."""
