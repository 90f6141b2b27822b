"""Where the command begins: Ctrl-C while the rest is still being loaded ends it as quietly as later."""


def main() -> None:
    """Load and run the command line."""
    try:
        from cli.main import main as run

        run()
    except KeyboardInterrupt:
        raise SystemExit(130) from None
