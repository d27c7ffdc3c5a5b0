"""The mean of the members of a forecast, as a forecast of one member."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from pappus.wind._field import WindField


def member_mean(field: WindField) -> WindField:
    """The field whose one member is the mean of all; pressures are averaged as logarithms."""
    if field.members == 1:
        return field
    return replace(
        field,
        pressure_pa=np.exp(np.log(field.pressure_pa).mean(axis=0, keepdims=True)),
        height_msl_m=field.height_msl_m.mean(axis=0, keepdims=True),
        temperature_k=field.temperature_k.mean(axis=0, keepdims=True),
        wind_u_m_s=field.wind_u_m_s.mean(axis=0, keepdims=True),
        wind_v_m_s=field.wind_v_m_s.mean(axis=0, keepdims=True),
    )
