"""What a teaching case asks and what an answer is worth: pure rules over the hidden truth.

`truth.py` sets the hidden field beside the reference's limits, `questions.py` asks and knows the
right answers, `operating.py` judges what an operator did, `marking.py` counts points and states
what guessing would give, `readers.py` are the reader who knows the truth and the one who guesses,
`record.py` is what is handed to a teacher. The cases themselves are in `protocols.cases`.
"""
