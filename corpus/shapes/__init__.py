"""Shapes: stretches of a line that have a name in the trade, whoever plays them.

Definitions (the names and what they mean are common practice, no source; the least lengths are ours, chosen so that a
teacher would circle what is found). Notes that are struck several times in a row count once, except where doubling is
the point. A dead note or a silence of a beat parts notes (for pedals, root-only stretches, cadences and calls: a
silence of a bar).

===================== ================================================================================================
interval cycle        goes on by one interval, octaves apart (a fourth up and a fifth down are one movement): four notes
                      by fourths, fifths, minor or major thirds, five by seconds with an octave broken
doubled notes         three or more pitches in a row, each struck twice
arpeggio              a complete triad, sixth, seventh or ninth chord without a step: three notes up or down by thirds
                      and fourths over one chord, or four and more in any order (in one direction where the chord
                      changes under them). Of the written chord, which may be without its root and may step from
                      seventh to root, or of another chord over it. A triad a step above the root between two
                      arpeggios of the chord is told as one
scale run             five or more notes by step in one direction, in one scale; one chromatic passing note may be
                      added to a major scale. Named by its mode from the chord's root, with its parent major scale
chromatic run         four or more notes by half-step in one direction
enclosure             a chord tone on a strong beat (the first, the middle of a bar of four or six, or where the chord
                      changes) after two weaker notes, one above and one below, within a whole step, at least one a
                      half-step away; the first side may take two notes by half-step. It is the root or third of its
                      chord, or a note before it is outside the scale
pedal                 one pitch class, in whatever octave, struck four times in two bars and more, or in one while the
                      chord changes twice, or held for two bars and a change; not when it is the root of all chords
root-only stretch     four notes and two bars or more of nothing but roots (or written basses)
5-1 cadence           the root of a dominant as its last note, the root of the chord a fourth up as the first over it
sequence              a cell repeated at once on another degree, in the same rhythm and by the same letters or
                      semitones: two or three notes three times, four to eight notes twice, from strong
                      beats; a run is none
call an octave higher three to sixteen notes, of at least three pitches, that come again at once an octave higher
===================== ================================================================================================

Chords that are written again are one chord. A note that is tied into a chord less than a beat ahead belongs to it.
Of two shapes of one kind, one inside the other, only the longer is told; a run of thirds is not told as an arpeggio
too.
"""

from corpus.shapes.find import shape_density, shapes_in, shapes_of, shapes_of_intervals
from corpus.shapes.labels import label_of, shared_labels
from corpus.shapes.shape import KINDS, Kind, Shape, parse_kinds

__all__ = [
    "KINDS",
    "Kind",
    "Shape",
    "label_of",
    "parse_kinds",
    "shape_density",
    "shapes_in",
    "shapes_of",
    "shapes_of_intervals",
    "shared_labels",
]
