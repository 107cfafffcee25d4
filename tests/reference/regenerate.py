"""Tables of the handbook, worked again by general-purpose libraries that nobody on this project wrote.

Prints CSV: quantity, x, y, value, tolerance, library. `tests/handbook.rs` asks the handbook for the
same quantity and fails where it differs by more than the tolerance, which is what the handbook's own
text promises (or the difference of two good formulations). bash tests/run does all of it.
"""

import csv
import sys
from importlib.metadata import version

import numpy as np
from chemicals import Hfg, combustion_data
from CoolProp.CoolProp import HAPropsSI, PropsSI
from fluids import ATMOSPHERE_1976
from ht import Nu_horizontal_plate_McAdams, Rohsenow, Zuber
from iapws.iapws97 import IAPWS97, _PSat_T, _TSat_P
from scipy.linalg import solve_discrete_are
from scipy.optimize import brentq
from scisuit.eng import Food

ICE_POINT_K = 273.15
ATM_PA = 101325.0


def library(name):
    return f"{name} {version(name)}"


def saturation():
    """Region 4 both ways, by two formulations."""
    for t in (0.01, 5, 20, 40, 60, 80, 90, 95, 99.974, 105, 120, 200, 300):
        p = _PSat_T(t + ICE_POINT_K) * 1e6
        yield "saturation_pressure_pa", t, "", p, 1e-8 * p, library("iapws")
        p95 = PropsSI("P", "T", t + ICE_POINT_K, "Q", 0, "Water")
        yield "saturation_pressure_pa", t, "", p95, 3e-4 * p95, library("CoolProp")
    for p in (612.0, 20e3, 70121.0, 84560.0, 97e3, ATM_PA, 104.5e3, 120e3, 1e6):
        yield "boiling_point_c", p, "", _TSat_P(p / 1e6) - ICE_POINT_K, 1e-6, library("iapws")
        t95 = PropsSI("T", "P", p, "Q", 0, "Water") - ICE_POINT_K
        yield "boiling_point_c", p, "", t95, 0.01, library("CoolProp")


def water():
    """Latent heat, and the liquid on the saturation line (0.2 MPa where the fit was made there)."""
    for t in (0.01, 10, 20, 30, 40, 50, 60, 70, 80, 90, 95, 100, 105, 110, 115, 119.9):
        kelvin = t + ICE_POINT_K
        steam, wet = IAPWS97(T=kelvin, x=1), IAPWS97(T=kelvin, x=0)
        liquid = IAPWS97(T=kelvin, P=0.2)
        iapws, coolprop = library("iapws"), library("CoolProp")
        yield "latent_heat_j_kg", t, "", (steam.h - wet.h) * 1e3, 60, iapws
        h95 = PropsSI("H", "T", kelvin, "Q", 1, "Water") - PropsSI("H", "T", kelvin, "Q", 0, "Water")
        yield "latent_heat_j_kg", t, "", h95, 140, coolprop
        yield "density_kg_m3", t, "", liquid.rho, 0.08, iapws
        yield "density_kg_m3", t, "", PropsSI("D", "T", kelvin, "P", 2e5, "Water"), 0.1, coolprop
        yield "heat_capacity_j_kg_k", t, "", liquid.cp * 1e3, 3.2, iapws
        yield "heat_capacity_j_kg_k", t, "", PropsSI("C", "T", kelvin, "P", 2e5, "Water"), 4.5, coolprop
        yield "surface_tension_n_m", t, "", wet.sigma, 1e-9, iapws
        tension = PropsSI("I", "T", kelvin, "Q", 0, "Water")
        yield "surface_tension_n_m", t, "", tension, 2e-3 * tension, coolprop  # another correlation
        yield "steam_density_kg_m3", t, "", steam.rho, 2e-4 * steam.rho, iapws
        rho95 = PropsSI("D", "T", kelvin, "Q", 1, "Water")
        yield "steam_density_kg_m3", t, "", rho95, 2e-4 * rho95, coolprop
        if t <= 110:
            yield "viscosity_pa_s", t, "", liquid.mu, 0.002 * liquid.mu, iapws
            yield "conductivity_w_m_k", t, "", liquid.k, 0.002 * liquid.k, iapws
        if t >= 40:
            yield "expansion_per_k", t, "", liquid.alfav, 0.03 * liquid.alfav, iapws


def altitude():
    """Standard atmosphere, and where water boils in it."""
    for z in (-400.0, 0.0, 40.0, 250.0, 500.0, 1000.0, 1500.0, 2250.0, 3000.0, 5000.0, 9000.0):
        p = ATMOSPHERE_1976(z).P
        yield "pressure_at_altitude_pa", z, "", p, 1.0, library("fluids")
        both = f"{library('fluids')} and {library('iapws')}"
        yield "boiling_point_at_altitude_c", z, "", _TSat_P(p / 1e6) - ICE_POINT_K, 0.001, both


def air():
    """Moist air."""
    for t in (10.0, 20.0, 28.0, 40.0, 60.0):
        for humidity in (0.1, 0.5, 0.9):
            kelvin, lib = t + ICE_POINT_K, library("CoolProp")
            density = 1.0 / HAPropsSI("Vha", "T", kelvin, "P", ATM_PA, "R", humidity)
            yield "moist_air_density_kg_m3", t, humidity, density, 0.003 * density, lib
        viscosity = PropsSI("V", "T", kelvin, "P", ATM_PA, "Air")
        yield "air_viscosity_pa_s", t, "", viscosity, 0.006 * viscosity, lib


def base():
    """Heat through the base, properties of saturated water by IF97."""
    for prandtl, grashof in ((5.54, 3.21e8), (1.753, 1e10), (7.0, 1e5), (2.0, 1e6)):
        nusselt = Nu_horizontal_plate_McAdams(prandtl, grashof)
        yield "upward_plate_nusselt", prandtl * grashof, "", nusselt, 1e-9 * nusselt, library("ht")
    for t in (89.977, 94.984, 99.974):
        wet, steam = IAPWS97(T=t + ICE_POINT_K, x=0), IAPWS97(T=t + ICE_POINT_K, x=1)
        latent = (steam.h - wet.h) * 1e3
        both = f"{library('ht')} and {library('iapws')}"
        for flux in (14e3, 28.3e3, 42.4e3, 70.7e3, 140e3):
            h = Rohsenow(
                rhol=wet.rho, rhog=steam.rho, mul=wet.mu, kl=wet.k, Cpl=wet.cp * 1e3,
                Hvap=latent, sigma=wet.sigma, Csf=0.013, n=1.0, q=flux,
            )
            yield "boiling_excess_k", flux, t, flux / h, 0.01, both
        critical = Zuber(sigma=wet.sigma, Hvap=latent, rhol=wet.rho, rhog=steam.rho, K=0.149)
        yield "critical_flux_w_m2", t, "", critical, 2e-3 * critical, both


def slab():
    """Root of zeta tan zeta = Bi."""
    for biot in (0.01, 0.1, 0.5, 1.0, 2.0, 10.0, 100.0):
        root = brentq(lambda z: z * np.tan(z) - biot, 1e-9, np.pi / 2 - 1e-9, xtol=1e-14)
        yield "slab_root", biot, "", root, 1e-9, library("scipy")


def trend():
    """Steady state of the local linear trend at 10 Hz: x the wander in kg/h per 10 min, y the noise in kg."""
    step = 0.1
    for wander in (0.05, 0.2, 1.0):
        for noise in (0.005, 0.020):
            q = (wander / 3600) ** 2 / 600 * 1e6  # g²/s³
            move = np.array([[1.0, step], [0.0, 1.0]])
            process = q * np.array([[step**3 / 3, step**2 / 2], [step**2 / 2, step]])
            sight, error = np.array([[1.0, 0.0]]), np.array([[(noise * 1e3) ** 2]])
            prior = solve_discrete_are(move.T, sight.T, process, error)
            gain = prior @ sight.T / (sight @ prior @ sight.T + error)
            settled = prior - gain @ sight @ prior
            slope, level = np.sqrt(settled[1, 1]) * 1e-3, np.sqrt(settled[0, 0]) * 1e-3
            yield "settled_slope_sd_kg_s", wander, noise, slope, 0.01 * slope, library("scipy")
            yield "settled_level_sd_kg", wander, noise, level, 0.01 * level, library("scipy")


def fuels():
    """Heats of combustion by mass, from heats of formation."""
    gases = (("CH4", "74-82-8"), ("C2H6", "74-84-0"), ("C3H8", "74-98-6"), ("C4H10", "106-97-8"),
             ("C4H10", "75-28-5"))
    for index, (formula, cas) in enumerate(gases):
        data = combustion_data(formula=formula, Hf=Hfg(cas))
        per_kg = 1e3 / data.MW
        for quantity, heat in (("gross_j_kg", -data.HHV), ("net_j_kg", -data.LHV)):
            yield quantity, index, "", heat * per_kg, 0.002 * heat * per_kg, library("chemicals")


def food():
    """Dry matter only: this library's water has other constants and its density another mixing rule."""
    dry, lib = Food(protein=10, lipid=30, cho=50, ash=10), library("scisuit")
    for t in (10, 60, 110):
        dry.T = t
        yield "dry_heat_capacity_j_kg_k", t, "", dry.cp() * 1e3, 0.1, lib
    alone = ((1, {"protein": 100}), (2, {"lipid": 100}), (3, {"cho": 100}), (5, {"ash": 100}))
    for part, kinds in alone:
        food = Food(**kinds)
        for t in (5, 20, 60, 95, 115):
            food.T = t
            yield "part_heat_capacity_j_kg_k", part, t, food.cp() * 1e3, 0.01, lib
            yield "part_density_kg_m3", part, t, food.rho(), 0.01, lib
            yield "part_conductivity_w_m_k", part, t, food.k(), 1e-6, lib


def convection():
    """Wall above a gravy, x kW through 300 mm, y its viscosity: the correlation by ht, solved by scipy."""
    k, rho, c, beta, gravity = 0.60, 990.0, 3930.0, 7.5e-4, 9.80665
    length, area = 0.3 / 4, np.pi / 4 * 0.3**2
    for mu in (0.001, 0.1, 1.0, 5.0):
        nu = mu / rho
        prandtl = nu / (k / rho / c)
        for kilowatts in (1, 2, 3, 5):
            def short(excess):
                grashof = gravity * beta * excess * length**3 / nu**2
                return Nu_horizontal_plate_McAdams(prandtl, grashof) * k / length * excess - kilowatts * 1e3 / area
            excess = brentq(short, 0.1, 3000)
            both = f"{library('ht')} and {library('scipy')}"
            yield "gravy_convection_excess_k", kilowatts, mu, excess, 1e-3 * excess, both


def rise():
    """Boiling point of ideal solutions of mass fraction x at y Pa, by IF97."""
    for pressure in (75e3, ATM_PA):
        for solute, molar, particles in (("salt", 58.443, 2), ("sucrose", 342.297, 1)):
            for x in (0.005, 0.02, 0.1, 0.25):
                moles = particles * x / molar
                activity = (1 - x) / 18.015268
                activity /= activity + moles
                pure, mixed = (_TSat_P(p * 1e-6) for p in (pressure, pressure / activity))
                yield f"{solute}_rise_k", x, pressure, mixed - pure, 1e-4, library("iapws")


def main():
    out = csv.writer(sys.stdout, lineterminator="\n")
    out.writerow(["quantity", "x", "y", "value", "tolerance", "library"])
    tables = (saturation, water, altitude, air, base, convection, rise, slab, trend, fuels, food)
    for table in tables:
        for quantity, x, y, *numbers, lib in table():
            out.writerow([quantity, x, y, *(repr(float(n)) for n in numbers), lib])


if __name__ == "__main__":
    main()
