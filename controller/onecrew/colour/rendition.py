"""Colour rendition of a spectrum: CIE Ra, TM-30 Rf and Rg, and SSI.

The test colours behind Ra, Rf and Rg are large tables, so they come from colour-science, the optional extra
``spectral``; it is imported when first asked for and never by the engine.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from types import ModuleType

import numpy as np
from numpy.typing import ArrayLike

from onecrew.colour.arrays import FloatArray
from onecrew.colour.cmf import COUNT, wavelengths_nm
from onecrew.colour.locus import uv60_to_white
from onecrew.colour.similarity import similarity, similarity_reference
from onecrew.colour.spaces import xy_to_uv60
from onecrew.colour.spectra import spectrum_to_xy


class NeedsSpectralExtra(ImportError):
    """colour-science is not installed."""


@dataclass(frozen=True, slots=True)
class Rendition:
    """How surfaces and a camera fare under a light, against the reference illuminant of its CCT."""

    cct_k: float
    duv: float
    ra: float
    """General colour rendering index, CIE 13.3-1995; 100 is the reference."""
    rf: float
    """Fidelity, ANSI/IES TM-30-18 (CIE 224:2017), 0–100."""
    rg: float
    """Gamut, ANSI/IES TM-30-18; 100 is the reference's."""
    ssi: int
    """Spectral similarity index, SMPTE ST 2122 (Academy S-2018-001), at most 100."""


def rendition(power: ArrayLike) -> Rendition:
    """Rendition of one spectrum (471,) on the 1 nm grid, in any unit of power.

    ValueError when it is dark or no white within 1000–25000 K and |Duv| 0.05; NeedsSpectralExtra, an
    ImportError whose text is fit for the user, when colour-science is not installed.
    """
    power = np.asarray(power, dtype=np.float64)
    if power.shape != (COUNT,) or not np.isfinite(power).all() or power.min() < 0.0 or power.max() <= 0.0:
        raise ValueError(f"a spectrum needs shape ({COUNT},), no power below 0 and some above")
    cct_k, duv = (float(part) for part in uv60_to_white(xy_to_uv60(spectrum_to_xy(power))))
    colour = _colour_science()
    at_5_nm = _distribution(colour, power)
    with warnings.catch_warnings():
        # Parts of colour-science that are not used here warn that scipy or matplotlib is missing.
        warnings.simplefilter("ignore")
        ra = float(colour.colour_rendering_index(at_5_nm))
        tm30 = colour.quality.colour_fidelity_index_ANSIIESTM3018(at_5_nm, additional_data=True)
    ssi = round(similarity(power, similarity_reference(cct_k)))
    return Rendition(cct_k, duv, ra, min(float(tm30.R_f), 100.0), float(tm30.R_g), ssi)


def _distribution(colour: ModuleType, power: FloatArray) -> object:
    """The visible part, 380–780 nm in steps of 5 nm, as CIE 13.3 and 224 take it."""
    at = slice(20, 421, 5)
    values = dict(zip(wavelengths_nm()[at].tolist(), power[at].tolist(), strict=True))
    return colour.SpectralDistribution(values)


def _colour_science() -> ModuleType:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            import colour
            import colour.quality
    except ImportError as missing:
        raise NeedsSpectralExtra(
            "colour rendition needs colour-science: pip install 'onecrew[spectral]'"
        ) from missing
    module: ModuleType = colour
    return module
