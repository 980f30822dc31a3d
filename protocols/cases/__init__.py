"""Teaching cases: an invented person with a hidden field and a habit, in a room with a set-up.

`file.py` is what a teacher writes, `fields.py` the hidden field drawn from the generator of
`protocols.population`, `habits.py` how the person answers and what a word changes, `setups.py` what
is wrong in the room, `sitter.py` the person at the screen, `play.py` an exam as a list of what the
operator does. All invented: nobody was measured. Pure, like the rest of `protocols`.
"""
