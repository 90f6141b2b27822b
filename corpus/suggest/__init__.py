"""Lines suggested over a chart: known figures over the functions that they are known to fit, joined smoothly.

``source`` makes a figure ready: notes, each with the function and key it stood over. ``ground`` is the chart, analysed.
``walk`` fills the beats that no figure takes. ``units`` are the candidates: whole bars that hold one figure, or none.
``search`` finds the cheapest row of units by dynamic programming; ``costs`` says what is cheap. ``line`` puts the
result together as a transcription, with the figure behind each bar.
"""
