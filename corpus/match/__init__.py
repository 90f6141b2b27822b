"""Finding a figure in lines, in separate stages.

``figure`` says what is asked for. Exactly: ``pattern`` turns it into a text of one reading that an index can answer,
``exact`` verifies candidates on the real notes and says where they stand. In disguise: ``sought`` makes it ready with
the ``prices`` of changes, ``scan`` finds where it may end in all lines at once, ``verify`` what it costs there,
``alignment`` how its notes stand on those of the line, ``explain`` what was changed.
"""
