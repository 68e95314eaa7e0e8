"""What the program does, for every face: requests and typed replies.

No printing, no arguments of a command line, no school. A face makes a request, and shows
the reply in its own way.
"""
