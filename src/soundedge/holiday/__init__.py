"""Which test voltage finds a hole in this film and leaves sound film alone?"""
