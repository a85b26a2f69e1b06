"""Let ``python -m planner`` run the command line."""

from planner.cli import main

if __name__ == "__main__":
    main()
