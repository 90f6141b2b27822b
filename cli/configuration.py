"""The user's configuration file: the prices of changes."""

from typing import TYPE_CHECKING

import typer

from corpus.errors import QueryError

if TYPE_CHECKING:
    from corpus.match.prices import Prices


def prices_in_force(name: str) -> "Prices":
    """The table of prices of a name, with what the user's configuration file says otherwise.

    Raises QueryError for an unknown table, a file that cannot be read, or a price that is none.
    """
    import tomllib

    from corpus.match.prices import TABLES, prices_from
    from db.location import configuration_file

    if name not in TABLES:
        raise QueryError(f"there is no table of prices {name!r}: choose {' or '.join(TABLES)}")
    file = configuration_file()
    try:
        content = tomllib.loads(file.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return TABLES[name]
    except OSError as error:
        raise QueryError(f"configuration {file} cannot be read: {error.strerror}") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise QueryError(f"configuration {file} is no TOML: {error}") from error
    tables = content.get("prices", {})
    for unknown in [key for key in content if key != "prices"]:
        raise QueryError(f"configuration {file}: there is no setting {unknown!r}, only tables [prices.figures] …")
    if not isinstance(tables, dict) or any(key not in TABLES or not isinstance(tables[key], dict) for key in tables):
        raise QueryError(f"configuration {file}: write prices under {' or '.join(f'[prices.{key}]' for key in TABLES)}")
    return prices_from(tables.get(name, {}), f"configuration {file}, [prices.{name}]", TABLES[name])


def prices(context: typer.Context) -> None:
    """Show what changes cost in near search, and where to set other prices.

    A price of 1 is that of another note. Set your own in the configuration file that is named below the table, as in:

      [prices.figures]
      passing = 0.2

    Example:

      wellworn prices
    """
    from dataclasses import fields

    from cli.output import print_table, tell
    from corpus.match.prices import PAID_FOR, TABLES, Prices
    from db.location import configuration_file

    del context
    tables = {name: prices_in_force(name) for name in TABLES}
    names = [field.name for field in fields(Prices)]
    rows = [(name, *(f"{getattr(tables[table], name):g}" for table in tables), PAID_FOR[name]) for name in names]
    print_table(("price", *tables, "paid for"), rows, right=tuple(tables))
    tell(f"your own prices: {configuration_file()}")
