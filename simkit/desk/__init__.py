"""The desk: the names that notebooks, scripts and the command line share; its page is ``README.md`` in this room."""
