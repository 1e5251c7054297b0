"""Pure functions, one physical topic a file: plain numbers in, plain numbers out.

Nothing of ours is imported here, no clock and no file. Each function gives its
formula, its units, the range it holds for and its source.
"""
