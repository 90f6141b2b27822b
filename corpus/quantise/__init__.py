"""From played times to written ones: which note of a bar a performer meant."""
