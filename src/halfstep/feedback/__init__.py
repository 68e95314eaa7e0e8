"""What was heard against what was meant: between listening and the pages.

It sees the chart, the written line and the heard notes, and writes no page.
"""
