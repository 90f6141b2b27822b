"""Finding a figure in lines, in separate stages.

``figure`` says what is asked for, ``pattern`` turns it into a text of one reading that an index can answer, ``exact``
verifies candidates on the real notes and says where they stand.
"""
