"""The command line: commands parse, call and render; what they show is made here, what they know is not."""
