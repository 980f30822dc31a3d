"""A lab's own reference: age limits from a folder of healthy exams, and how sure they are.

`sample` gathers levels, `fit` fits medians and depths by quantile regression, `tolerance` says how
sure a limit is, `left_out` judges each person by a fit without them, `outliers` names codes to
look at, `build` makes the file, `writing` writes it, `check` tests a new sample against one,
`page` and `pictures` show it. Research only: it describes the people measured, no others.
"""
