"""DICOM: Ophthalmic Visual Field Static Perimetry Measurements, experimental, one file an eye.

The standard's fields speak of luminance increments; ours are gratings. Every file says so where it
is read first. The printed sheet goes beside it as an Encapsulated PDF.
"""
