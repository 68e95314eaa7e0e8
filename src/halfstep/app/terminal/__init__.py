"""The terminal: arguments become a request, a reply becomes lines."""
