"""A page of sentences, pictures and tables in the look of the exam's page.

Used by the page of a reference and the page of a comparison. Nothing is loaded from outside and no
script runs; the same content gives the same bytes.
"""
