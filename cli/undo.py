"""``undo``: the last change of corpus or shelf, taken back."""

from typing import TYPE_CHECKING, Annotated, Any

import typer

from cli.options import DatabaseOption, JsonOption, database_at
from corpus.errors import QueryError

if TYPE_CHECKING:
    from db.undo import Effect, Step

_CHANGES_SHOWN = 6
_REST = "files on disk, backups and what was exported stay as they are; an undo cannot be undone"


def undo(
    context: typer.Context,
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask.")] = False,
    show: Annotated[bool, typer.Option("--list", help="Show what can be undone, the newest first.")] = False,
    json: JsonOption = False,
    db: DatabaseOption = None,
) -> None:
    """Undo the last change of corpus or shelf: add, remove, edit, the shelf's commands, practice log.

    What will be undone is shown first. Again goes further back: the last 50 commands are kept, 32 MB of them. What
    doctor, restore or an upgrade did is not among them: for that there is the backup.

    Examples:

      wellworn undo

      wellworn undo --list

      wellworn undo --yes
    """
    from cli.output import print_json, tell
    from db.undo import last_step, steps
    from db.undo import undo as go_back

    database = database_at(context, db)
    with database.reading() as connection:
        found = steps(connection) if show else [step for step in [last_step(connection)] if step is not None]
    if show and json:
        print_json([_fields(step) for step in found])
    elif show:
        _print_steps(found)
    if not found:
        tell("nothing to undo: no change of corpus or shelf is kept")
    if show or not found:
        return
    if not json:
        _print_step(found[0])
    _agree(yes, found[0])
    effect = go_back(database, found[0])
    if json:
        print_json({**_fields(found[0]), "undone": True})
    tell(f"undone: {'; '.join(_effect_words(effect)) or 'nothing was left to change'}")


def _agree(yes: bool, step: "Step") -> None:
    """Ask, unless ``--yes`` says so. Raises QueryError when nobody agrees."""
    from cli.shelf import is_asked

    if yes or step.effect is None:
        return
    if not (is_asked() and typer.confirm("Undo that?", default=False, err=True)):
        raise QueryError("nothing is undone; --yes undoes without asking")


def _print_steps(found: "list[Step]") -> None:
    from cli.output import print_table, tell

    rows = [(_when(step), step.command, _summary(step)) for step in found]
    if rows:
        print_table(("when", "command", "what"), rows)
        tell("the first of them is undone first; an undo cannot be undone")


def _print_step(step: "Step") -> None:
    from cli.output import say, tell

    say(f"{step.command}, {_when(step)}")
    for words in step.words[:_CHANGES_SHOWN]:
        say(f"  {words}")
    if step.changes > _CHANGES_SHOWN:
        say(f"  … and {step.changes - _CHANGES_SHOWN:,} more changes")
    if step.effect is not None:
        say(f"undo: {'; '.join(_effect_words(step.effect)) or 'nothing is left to change'}")
    tell(_REST)


def _when(step: "Step") -> str:
    """Day and time of the clock here; stored times are those of UTC."""
    from datetime import UTC

    made = step.made_at if step.made_at.tzinfo else step.made_at.replace(tzinfo=UTC)
    return made.astimezone().strftime("%Y-%m-%d %H:%M")


def _summary(step: "Step") -> str:
    more = f" and {step.changes - 1:,} more" if step.changes > 1 else ""
    return f"{step.words[0]}{more}" + (" (too large to be undone)" if step.effect is None else "")


def _effect_words(effect: "Effect") -> list[str]:
    from cli.shelf_words import count_of

    phrases = (
        (effect.lines_out, "transcription", "taken out"),
        (effect.lines_back, "transcription", "brought back"),
        (effect.lines_as_before, "transcription", "set as before"),
        (effect.figures_out, "kept figure", "taken off the shelf"),
        (effect.figures_back, "kept figure", "put back on the shelf"),
        (effect.figures_as_before, "kept figure", "set as before"),
        (effect.links_back, "link", "from the shelf brought back"),
    )
    return [f"{count_of(count, thing)} {what}" for count, thing, what in phrases if count]


def _fields(step: "Step") -> dict[str, Any]:
    from dataclasses import asdict

    return {
        "command": step.command,
        "made_at": step.made_at.isoformat(),
        "changes": list(step.words),
        "effect": None if step.effect is None else asdict(step.effect),
    }
