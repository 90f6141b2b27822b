"""The tables, as typed models.

A *source* is a file (or typed text) that was added; it holds one or many *transcriptions*. What is listed and filtered
stands in ``transcription``; the notes themselves in ``line`` (packed, see ``db.packing``), so that a listing never
reads them; every reading as text in ``reading``, where a SQL shell can search it. The trigram indexes over
``reading`` are FTS5 tables made by the first migration and kept in step by triggers.
"""

from datetime import date, datetime
from typing import Any, ClassVar, Final

from sqlalchemy import (
    JSON,
    CheckConstraint,
    Date,
    DateTime,
    Float,
    ForeignKey,
    LargeBinary,
    MetaData,
    UniqueConstraint,
)
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column

from db.columns import ID, text

INDEXED_READINGS: Final = ("folded", "folded_collapsed", "letter", "letter_collapsed", "role", "role_collapsed")
"""Readings with a trigram index of their own, ``<reading>_index``: those without octaves find candidates for all."""


class Base(DeclarativeBase):
    """Root of the models; constraint names are fixed so that migrations can name them."""

    type_annotation_map: ClassVar = {str: text()}
    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(table_name)s_%(column_0_name)s",
            "uq": "uq_%(table_name)s_%(column_0_name)s",
            "ck": "ck_%(table_name)s_%(constraint_name)s",
            "fk": "fk_%(table_name)s_%(column_0_name)s",
            "pk": "pk_%(table_name)s",
        }
    )


class Source(Base):
    """A file that was added: its name, and the hash of its bytes and of the wishes that it was read with."""

    __tablename__ = "source"
    __table_args__ = (UniqueConstraint("content_hash"), CheckConstraint("byte_count >= 0", name="byte_count"))

    id: Mapped[int] = mapped_column(ID, primary_key=True)
    name: Mapped[str] = mapped_column(text(4096), index=True)
    content_hash: Mapped[str] = mapped_column(text(64))
    part: Mapped[str] = mapped_column(text(200))
    byte_count: Mapped[int]
    added_at: Mapped[datetime] = mapped_column(DateTime(timezone=True))
    chart: Mapped[str] = mapped_column(server_default="")
    """The chart in text that was laid over the file's lines, kept for when the file is replaced."""
    refused: Mapped[list[list[str]]] = mapped_column(JSON, server_default="[]")
    """Pieces of the file that could not be read: pairs of label and reason."""


class TranscriptionRow(Base):
    """What is known about one transcription besides its notes; ``position`` is its place in the source."""

    __tablename__ = "transcription"
    __table_args__ = (UniqueConstraint("source_id", "position"),)

    id: Mapped[int] = mapped_column(ID, primary_key=True)
    source_id: Mapped[int] = mapped_column(ID, ForeignKey("source.id", ondelete="CASCADE"))
    position: Mapped[int]
    title: Mapped[str] = mapped_column(text(400), index=True)
    player: Mapped[str] = mapped_column(text(400), index=True)
    collection: Mapped[str] = mapped_column(text(400), index=True)
    instrument: Mapped[str] = mapped_column(text(400))
    recording: Mapped[str] = mapped_column(text(400))
    year: Mapped[int | None]
    tempo_bpm: Mapped[float | None] = mapped_column(Float)
    key: Mapped[str] = mapped_column(text(40))
    meter: Mapped[str] = mapped_column(text(20))
    form: Mapped[str] = mapped_column(text(2000))
    note_count: Mapped[int]
    bar_count: Mapped[int]
    edited: Mapped[dict[str, Any]] = mapped_column(JSON)
    """What the user set by hand after adding: ``set`` and ``was``, new and old values by name. It survives a
    replacement of the file."""


class LineRow(Base):
    """The packed notes and layout of a transcription."""

    __tablename__ = "line"

    transcription_id: Mapped[int] = mapped_column(
        ID, ForeignKey("transcription.id", ondelete="CASCADE"), primary_key=True, autoincrement=False
    )
    notes: Mapped[bytes] = mapped_column(LargeBinary)
    layout: Mapped[bytes] = mapped_column(LargeBinary)


class ReadingRow(Base):
    """Every reading of a transcription, plain and with doubles collapsed, one symbol a note."""

    __tablename__ = "reading"

    transcription_id: Mapped[int] = mapped_column(
        ID, ForeignKey("transcription.id", ondelete="CASCADE"), primary_key=True, autoincrement=False
    )
    interval: Mapped[str]
    folded: Mapped[str]
    step: Mapped[str]
    letter: Mapped[str]
    contour: Mapped[str]
    rhythm: Mapped[str]
    degree: Mapped[str]
    interval_collapsed: Mapped[str]
    folded_collapsed: Mapped[str]
    step_collapsed: Mapped[str]
    letter_collapsed: Mapped[str]
    contour_collapsed: Mapped[str]
    rhythm_collapsed: Mapped[str]
    degree_collapsed: Mapped[str]
    role: Mapped[str] = mapped_column(server_default="")
    movement: Mapped[str] = mapped_column(server_default="")
    role_collapsed: Mapped[str] = mapped_column(server_default="")
    movement_collapsed: Mapped[str] = mapped_column(server_default="")


class HarmonyRow(Base):
    """The functions of a line at one simplification level: see ``corpus.harmony.over.FunctionText``.

    ``chord_indexes`` are packed by ``db.packing``. Lines without chords have no rows. Rows are stored in the order of
    level and line, so that a search through one level reads nothing else.
    """

    __tablename__ = "harmony"
    __table_args__ = ({"sqlite_with_rowid": False},)

    level: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    transcription_id: Mapped[int] = mapped_column(
        ID, ForeignKey("transcription.id", ondelete="CASCADE"), primary_key=True, autoincrement=False, index=True
    )
    functions: Mapped[str]
    chord_indexes: Mapped[bytes] = mapped_column(LargeBinary)
    silences: Mapped[str] = mapped_column(server_default="")
    """A mark a function, ``-`` where no note starts; empty when a note starts under each."""


class DiscoveryRow(Base):
    """What was asked of discovery (selection and settings, as JSON with sorted keys), and of which lines.

    ``lines_hash`` tells whether the lines are still those that were looked at.
    """

    __tablename__ = "discovery"
    __table_args__ = (UniqueConstraint("asked"),)

    id: Mapped[int] = mapped_column(ID, primary_key=True)
    asked: Mapped[str] = mapped_column(text())
    lines_hash: Mapped[str] = mapped_column(text(64))
    line_count: Mapped[int]
    note_count: Mapped[int]
    made_at: Mapped[datetime] = mapped_column(DateTime(timezone=True))


class FamilyRow(Base):
    """A family that a discovery found, best first; ``content`` is packed by ``db.families``."""

    __tablename__ = "family"

    discovery_id: Mapped[int] = mapped_column(
        ID, ForeignKey("discovery.id", ondelete="CASCADE"), primary_key=True, autoincrement=False
    )
    rank: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    code: Mapped[str] = mapped_column(text(12), index=True)
    content: Mapped[bytes] = mapped_column(LargeBinary)


class ShelfFigureRow(Base):
    """A kept figure: see ``corpus.shelf.kept``. ``id_name`` is its name as figures are told apart by.

    ``music`` holds notes, chords, key, meter and beat as the shelf file writes them.
    """

    __tablename__ = "shelf_figure"
    __table_args__ = (UniqueConstraint("id_name"), CheckConstraint("rating BETWEEN 1 AND 5", name="rating"))

    id: Mapped[int] = mapped_column(ID, primary_key=True)
    name: Mapped[str] = mapped_column(text(80))
    id_name: Mapped[str] = mapped_column(text(240))
    music: Mapped[dict[str, Any]] = mapped_column(JSON)
    tags: Mapped[list[str]] = mapped_column(JSON)
    rating: Mapped[int | None]
    comment: Mapped[str]
    family: Mapped[str] = mapped_column(text(80))
    kept_on: Mapped[date | None] = mapped_column(Date)


class ShelfSourceRow(Base):
    """Where a kept figure came from: words that stay, and a link to the stored line as long as that is there.

    The link is no foreign key: a line that is replaced by a newer state of its file keeps its ID (``db.replacing``),
    and the link must outlive the moment in which the old state is out and the new one not yet in.
    """

    __tablename__ = "shelf_source"

    id: Mapped[int] = mapped_column(ID, primary_key=True)
    figure_id: Mapped[int] = mapped_column(ID, ForeignKey("shelf_figure.id", ondelete="CASCADE"), index=True)
    title: Mapped[str] = mapped_column(text(400))
    player: Mapped[str] = mapped_column(text(400))
    passage: Mapped[str] = mapped_column(text(400))
    notes: Mapped[list[str]] = mapped_column(JSON)
    transcription_id: Mapped[int | None] = mapped_column(ID, index=True)
    first: Mapped[int | None]
    last: Mapped[int | None]


class PracticeRow(Base):
    """An entry of the practice log: quarters a minute, keys, and how well it came back (0 to 5) if it was said."""

    __tablename__ = "practice"
    __table_args__ = (CheckConstraint("grade BETWEEN 0 AND 5", name="grade"),)

    id: Mapped[int] = mapped_column(ID, primary_key=True)
    figure_id: Mapped[int] = mapped_column(ID, ForeignKey("shelf_figure.id", ondelete="CASCADE"), index=True)
    day: Mapped[date] = mapped_column(Date)
    bpm: Mapped[float] = mapped_column(Float)
    keys: Mapped[list[str]] = mapped_column(JSON)
    grade: Mapped[int | None]


class HistoryRow(Base):
    """A change of corpus or shelf, kept to be undone: see ``db.history``.

    Rows of one ``deed`` were made by one command and are undone together. ``content`` is None when it was too large
    to be kept.
    """

    __tablename__ = "history"

    id: Mapped[int] = mapped_column(ID, primary_key=True)
    deed: Mapped[str] = mapped_column(text(16), index=True)
    command: Mapped[str] = mapped_column(text(40))
    words: Mapped[str]
    made_at: Mapped[datetime] = mapped_column(DateTime(timezone=True))
    content: Mapped[bytes | None] = mapped_column(LargeBinary)
