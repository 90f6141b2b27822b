"""The account of a line that a teacher would give, bar by bar and as a whole: rules over findings, nothing else.

Each rule looks at one kind of finding (implied chords, shapes, register, rhythm, approaches) and makes *remarks*: a
sentence, the bar it belongs to, and the finding behind it in figures. ``account`` keeps what fits into two lines a bar,
the weightiest first, and sums the chorus up. The same line always gives the same account.

Recurring figures are found by ``corpus.recur`` and the database (``db.recurring``), so they are not looked for here:
``figures`` makes remarks of them, and these take their place beside the others.
"""
