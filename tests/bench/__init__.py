"""Timings beside plain alternatives, printed as ratios by ``make bench``; never asserted."""
