"""From luminance readings to a curve with its covariance, channel by channel.

Here live the measuring plan, the noise of a meter, the two models of a channel and the choice
between them. What may not live here: instruments, files, and anything that draws.
"""
