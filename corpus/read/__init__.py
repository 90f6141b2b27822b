"""One reader a format, and how a written line becomes a played one."""
