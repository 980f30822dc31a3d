"""The operator's station: pages on this machine for whoever runs the queue.

`app.py` joins the parts, `serve.py` opens the door, `guard.py` keeps it: a one-time link, the
page's own origin only, small requests. `queue*.py` hold who is next, `runs.py` starts an exam as a
program of its own, `follow.py` reads its journal as it grows, `live.py` says where it stands,
`forecast.py` how long it may still take. `checks/` try out the set-up, `day*.py` sum up a day,
`backup.py` copies it, `say/` holds what is read aloud, `pages/` has a file for each page.

No page shows light: an exam is another process, so that no request can cost it a frame. If the
station ends, the exam goes on, and the next station finds it by its folder.
"""
