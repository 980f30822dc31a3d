"""Brain Imaging Data Structure, behavioural: many people, visits and runs in one folder.

One exam is one run; its presentations are the events, both eyes and catch trials among them.
"""
