"""What light was shown, where and when: facts about a display.

Here live the geometry of a screen before an eye and the display's transfer from code values to
luminance: numbers that are measured or declared once and then only read. What may not live here:
anything that draws, waits for a person or judges an answer; imports go down to `protocols` only.
"""
