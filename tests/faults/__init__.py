"""Faults on purpose: processes killed at random moments, full disks, clocks that jump; and what is left afterwards.

``python -m tests.faults`` (``make faults``) tries them all and prints the table that DEVELOPERS.md shows; the tests
beside it try a few. Whatever happens, the database must be whole, sound by the doctor, and hold what it should.
"""
