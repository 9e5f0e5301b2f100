"""`python -m planner` is `newtank`."""

from planner.cli import main

main()
