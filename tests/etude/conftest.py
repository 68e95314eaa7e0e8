"""Lets the tests of single steps, one folder further down, use the charts and lines of this one."""
