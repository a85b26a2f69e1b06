"""Where the command starts: the first help at once, all else by the command line.

The help is kept here as text because importing the command-line library takes longer
than Python itself; ``tests/test_start.py`` holds it to what that library would print.
"""

import sys

HELP = """\
Usage: planner [OPTIONS] COMMAND [ARGS]...

  Say which hours to put film on a hoop house, and what stops them.

  `planner serve` does everything in the browser. By hand, `planner new`
  writes a job file, `planner inspect` checks it, and `planner windows` says
  when.

Options:
  --version   Show the version and exit.
  -h, --help  Show this message and exit.

Commands:
  fetch    Weather from a service, into a file.
  inspect  Check job and weather files.
  learn    How far forecasts miss at a place.
  new      Write a commented job file.
  replay   How well chances held in the past.
  serve    The planner as a local web page.
  tension  How tight to lock the film.
  windows  Which hours: the main job.

  A plan is not permission: the reading in the hand outranks the forecast.
"""


def main() -> None:
    """Print the help if nothing or help is asked for, else run the command line."""
    if sys.argv[1:] in ([], ["-h"], ["--help"]):
        sys.stdout.write(HELP)
        return
    from planner.cli import main as run

    run()


if __name__ == "__main__":
    main()
