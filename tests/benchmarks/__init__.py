"""The program's figures, measured; ``python -m tests.benchmarks`` prints their table.

Nothing here is a test: what a machine is busy with besides must never fail one.
"""
