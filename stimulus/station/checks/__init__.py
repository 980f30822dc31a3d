"""Set-up checks that try things out. `outcome.py` is what each finds, `machine.py` needs no
window, `probe.py` is a program that opens one, `screen.py` starts it and reads what it found,
`held.py` keeps the last findings of a data folder.
"""
