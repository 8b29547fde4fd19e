"""What can hurt the person at the bench: vapour against its lower explosive limit, fume, hot surfaces, hot-work clocks.

Every answer here is an estimate; an instrument decides.
"""
