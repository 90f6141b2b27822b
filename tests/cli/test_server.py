"""Commands on a PostgreSQL server: exit codes, and passwords that are never said."""

import pytest
import sqlalchemy as sa

from tests.cli.conftest import Run

pytestmark = pytest.mark.server_only


@pytest.mark.parametrize(
    ("changes", "code", "words"),
    [({"port": 1}, 1, "cannot be reached"), ({"database": "there_is_none"}, 2, "createdb")],
)
def test_a_server_that_does_not_answer_is_told(
    run: Run, new_url: str, changes: dict[str, int | str], code: int, words: str
) -> None:
    """1 where the system refuses, 2 where the URL can be mended; one line, without the password."""
    url = sa.make_url(new_url)
    assert url.password
    wrong = url.set(**changes).render_as_string(hide_password=False)  # type: ignore[arg-type]
    for command in (("list",), ("find", "--contour", "uud"), ("doctor",), ("backup", "copy.db")):
        done = run(*command, "--db", wrong)
        assert (done.code, words in done.err, done.out) == (code, True, "")
        assert done.err.count("\n") == 1
        assert url.password not in done.err


def test_the_demo_names_its_database_without_the_password(run: Run, new_url: str) -> None:
    """What to try next holds the URL, not the password in it."""
    password = sa.make_url(new_url).password
    assert password
    done = run("demo", "--db", new_url)
    assert done.code == 0
    assert f"{str(sa.make_url(new_url)).split('***')[0]}***@" in done.out
    assert f":{password}@" not in done.out + done.err
    assert len(run("list", "--json").json) > 10
