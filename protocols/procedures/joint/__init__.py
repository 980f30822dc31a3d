"""The field as one unknown: every answer tells of all places, a lone deep loss stays lone.

The prior is a mixture of hypotheses about the whole field (`hypotheses.py`): healthy, diffuse,
loss in a region along the nerve-fibre course, isolated loss, free. Under each, a place's
sensitivity is a smooth part, Gaussian over places, less an extra loss that the place has with a
small chance of its own, whatever its neighbours do (`scale.py`). All answers at a place are kept
as one exact likelihood on a grid (`answers.py`) under several kinds of attention, which catch
trials tell apart (`attention.py`). The smooth part is held as a Gaussian, to which each place's
likelihood is matched in mean and variance (expectation propagation, `matching.py`; Minka 2001,
UAI 17:362). `marginals.py` reads each place off the mixture, `placement.py` picks place and level
by expected narrowing per second, `ending.py` says when it is enough.

Sharing answers between neighbours saved 25 % of presentations on healthy fields and none where
loss is local for Rubinstein, McKendrick & Turpin 2016, Transl Vis Sci Technol 5(2):7; a joint map
halved the error of place-by-place estimates early on for Xu, Lesmes, Yu & Lu 2020, Front Neurosci
14:665. Both are reasons for the idea; no number of theirs is used here.
"""

from protocols.procedures.joint.procedure import Joint
from protocols.procedures.joint.settings import JointSettings

__all__ = ["Joint", "JointSettings"]
