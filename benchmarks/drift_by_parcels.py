"""The same field in `parcels`: particles advected for 9,000 s in 300 steps, up at 5.5 m/s and down again.

No flight physics, no wind error, no terrain: the least that the drift alone costs there.
"""

from __future__ import annotations

import time
import warnings

import numpy as np

from pappus.wind import WindField

SECONDS, STEPS = 9_000.0, 300
UP_S, CLIMB_M_S = 5_600.0, 5.5


def seconds_to_drift(field: WindField, particles: int) -> float:
    """Time for all particles, without the set-up."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return _drift(field, particles)


def _drift(field: WindField, particles: int) -> float:
    import xarray
    from parcels import FieldSet, Particle, ParticleSet, Variable
    from parcels.kernels import AdvectionRK2

    heights = field.height_msl_m.mean(axis=(0, 1, 3, 4))
    where = ("time", "depth", "YG", "XG")
    start = np.datetime64(field.epoch.replace(tzinfo=None), "ns")
    ny, nx = len(field.latitude_deg), len(field.longitude_deg)
    data = xarray.Dataset(
        {
            "U": (where, field.wind_u_m_s[0].astype(np.float32)),
            "V": (where, field.wind_v_m_s[0].astype(np.float32)),
            "grid": (
                (),
                0,
                {
                    "cf_role": "grid_topology",
                    "topology_dimension": 2,
                    "node_dimensions": "XG YG",
                    "node_coordinates": "lon lat",
                    "face_dimensions": "XC: XG (padding: low) YC: YG (padding: low)",
                    "vertical_dimensions": "ZC: depth (padding: both)",
                },
            ),
        },
        coords={
            "time": ("time", start + (field.time_s * 1e9).astype("timedelta64[ns]"), {"axis": "T"}),
            "depth": ("depth", heights, {"axis": "Z"}),
            "YG": ("YG", np.arange(ny), {"axis": "Y"}),
            "XG": ("XG", np.arange(nx), {"axis": "X"}),
            "YC": ("YC", np.arange(ny) + 0.5, {"axis": "Y"}),
            "XC": ("XC", np.arange(nx) + 0.5, {"axis": "X"}),
            "lat": ("YG", field.latitude_deg, {"axis": "Y"}),
            "lon": ("XG", field.longitude_deg, {"axis": "X"}),
        },
    )
    fields = FieldSet.from_sgrid_conventions(data, mesh="spherical")

    def climb_and_fall(particles, fieldset):  # type: ignore[no-untyped-def]  # parcels reads the bare signature
        particles.dz += np.where(particles.age < UP_S, CLIMB_M_S, -CLIMB_M_S) * SECONDS / STEPS
        particles.age += SECONDS / STEPS

    aged = Particle.add_variable(Variable("age", dtype=np.float32, initial=0.0))
    ones = np.ones(particles)
    middle = float(np.mean(field.latitude_deg)), float(np.mean(field.longitude_deg))
    flock = ParticleSet(
        fields, pclass=aged, x=middle[1] * ones, y=middle[0] * ones, z=100.0 * ones, t=np.full(particles, start)
    )
    began = time.perf_counter()
    flock.execute(
        [AdvectionRK2, climb_and_fall],
        dt=np.timedelta64(int(SECONDS / STEPS), "s"),
        runtime=np.timedelta64(int(SECONDS), "s"),
        verbose_progress=False,
    )
    spent = time.perf_counter() - began
    moved = np.asarray(flock.x) - middle[1]
    if not (np.abs(moved) > 0.05).all():
        raise RuntimeError("the particles did not drift")
    return spent
