"""The bundled CIE data is what the two libraries carry."""

from __future__ import annotations

from types import ModuleType

import numpy as np
import pytest

from onecrew.colour.cmf import matching_functions, read_table, wavelengths_nm


def test_column_sums_are_those_of_two_other_copies_of_the_table() -> None:
    # Plain sums over 360–830 nm, worked out from the tables that colour-science 0.4.7 and luxpy 1.12 carry.
    assert matching_functions().sum(axis=0) == pytest.approx([106.86547, 106.85692, 106.89225], abs=5e-6)


def test_matching_functions_are_those_of_colour_science(colour_science: ModuleType) -> None:
    theirs = colour_science.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    assert np.array_equal(theirs.wavelengths, wavelengths_nm())
    assert np.array_equal(theirs.values, matching_functions())


def test_matching_functions_are_those_of_luxpy(luxpy: ModuleType) -> None:
    theirs = luxpy._CMF["1931_2"]["bar"]
    assert np.array_equal(theirs[0], wavelengths_nm())
    assert np.abs(theirs[1:].T - matching_functions()).max() < 1e-9


def test_daylight_components_are_those_of_colour_science(colour_science: ModuleType) -> None:
    ours = read_table("cie_d_series.csv")
    basis = colour_science.colorimetry.datasets.SDS_BASIS_FUNCTIONS_CIE_ILLUMINANT_D_SERIES
    for column, name in enumerate(("S0", "S1", "S2"), start=1):
        assert np.array_equal(basis[name].wavelengths, ours[:, 0])
        assert np.array_equal(basis[name].values, ours[:, column])


def test_shared_arrays_cannot_be_changed() -> None:
    with pytest.raises(ValueError, match="read-only"):
        matching_functions()[0, 0] = 1.0
    with pytest.raises(ValueError, match="read-only"):
        wavelengths_nm()[0] = 1.0
