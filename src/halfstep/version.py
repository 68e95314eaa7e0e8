"""Which release of the program is this?"""

VERSION = "0.1.0"
