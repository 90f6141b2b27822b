"""The account of a line that a teacher would give, bar by bar and as a whole: rules over findings, nothing else.

Each rule looks at one kind of finding (implied chords, shapes, register, rhythm, approaches) and makes *remarks*: a
sentence, the bar it belongs to, and the finding behind it in figures. ``account`` keeps at most two remarks a bar, the
weightiest, and sums the chorus up. The same line always gives the same account.

Recurring figures are found across lines, by ``corpus.recur`` and the database, so they are not looked for here: who has
them hands them to ``account`` as remarks of the kind ``figure`` (made by ``remark_at``), and they take their place
beside the others.
"""
