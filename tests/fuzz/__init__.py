"""Reading what nobody would write: every reader and parser on altered inputs, in bulk (``make fuzz``)."""
