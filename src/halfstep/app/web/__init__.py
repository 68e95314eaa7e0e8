"""The program in a browser: routes turn forms into requests, and replies into pages.

``site`` puts it together from the one list in ``routes``; what each route does stands in a module
of its own, ``chart_routes`` and the like; its page in ``pages/``, what browsers load in
``static/``.
"""
