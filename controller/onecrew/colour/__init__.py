"""Colour: whites, mixes and what a camera makes of them, by numpy alone. Knows nothing of lamps.

cmf, planck       the CIE 1931 observer and the Planckian locus
limits            how far whites reach
spaces            chromaticity diagrams and XYZ
locus             (CCT, Duv) ⇄ chromaticity, exact, for set-up
table             the same from a table, for the 44 Hz loop
daylight, mired   the D series; mired arithmetic
gels, hue         correction gels; saturated colours by hue and saturation
mixing            emitters → drives: most light (zonotope, hull) and best rendition
adaptation        the camera's eye, as sRGB
spectra           bells, efficacy, the reference illuminant of a white
tolerance         from when on two chromaticities are seen to differ side by side
similarity        SSI
rendition         Ra, Rf, Rg, by the optional extra ``spectral``
"""
