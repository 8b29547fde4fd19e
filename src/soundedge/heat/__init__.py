"""What does the steel under the lining really do while the hot-air gun is on it?"""
