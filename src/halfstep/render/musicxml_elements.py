"""How does a word get into MusicXML? Elements with text, of what signs XML may hold."""

from __future__ import annotations

import re
from xml.etree.ElementTree import Element, SubElement

_NO_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def text_child(parent: Element, tag: str, content: object, **attributes: str) -> Element:
    """A child with text in it, of what signs XML may hold."""
    child = SubElement(parent, tag, attributes)
    child.text = _NO_XML.sub("", str(content))
    return child
