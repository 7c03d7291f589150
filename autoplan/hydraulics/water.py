"""Density and viscosity of fresh water."""

from __future__ import annotations

from dataclasses import dataclass

GRAVITY = 9.80665
"""Standard acceleration of gravity [m/s2], 3rd CGPM 1901."""

COLDEST_C = 0.0
HOTTEST_C = 60.0

_KELL_NUMERATOR = (999.83952, 16.945176, -7.9870401e-3, -46.170461e-6, 105.56302e-9, -280.54253e-12)
_KELL_DENOMINATOR = 16.879850e-3
_VISCOSITY_TERMS = ((280.68, -1.9), (511.45, -7.7), (61.131, -19.6), (0.45903, -40.0))


@dataclass(frozen=True, slots=True)
class Water:
    """Water at one temperature: density [kg/m3] and kinematic viscosity [m2/s]."""

    density_kg_m3: float
    viscosity_m2_s: float


def water_at(celsius: float) -> Water:
    """Fresh water at atmospheric pressure.

    Density: G. S. Kell, J. Chem. Eng. Data 20(1), 1975, 97-105, rational fit. Dynamic viscosity: IAPWS
    supplementary release SR6-08 for liquid water at 0.1 MPa, mu = 1e-6 x sum a_i (T / 300 K)^b_i [Pa s].
    Coefficients from memory, checked against published values.

    Args:
        celsius: water temperature, 0 to 60 [C].

    Returns:
        Density and kinematic viscosity.

    Raises:
        ValueError: temperature outside 0 to 60 C.
    """
    if not COLDEST_C <= celsius <= HOTTEST_C:
        raise ValueError(f"water temperature {celsius:g} C is outside {COLDEST_C:g} to {HOTTEST_C:g} C")
    numerator = sum(term * celsius**power for power, term in enumerate(_KELL_NUMERATOR))
    density = numerator / (1.0 + _KELL_DENOMINATOR * celsius)
    reduced = (celsius + 273.15) / 300.0
    dynamic = 1e-6 * sum(factor * reduced**power for factor, power in _VISCOSITY_TERMS)
    return Water(density_kg_m3=density, viscosity_m2_s=dynamic / density)
