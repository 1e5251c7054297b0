"""Where things meet: the clock, what is asked for, the picture that faces draw; and by rooms.

``files``, what people write in files; ``bench``, the one thread and the batch on it; ``life``,
how long epoxy lives and how far it has cured; ``sizing``, how much to mix; ``tags``; and
``book``, the record away from the bench.
"""
