"""The build record: an append-only journal of facts, and every view and export of it.

Imports nothing else of ours. `envelope` and `views` are pure; `journal` holds the
file; `export` writes the CSV. Nothing in here reads a clock: time comes in with the
facts.
"""
