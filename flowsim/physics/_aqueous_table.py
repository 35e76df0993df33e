"""Partial pressures over solutions in water: strength in percent by mass, pressure in pascal.

Hydrochloric acid: [Zeisberg1925]_ in the form of [PerryTables]_, from memory; the activity model
agrees within 7 % up to 28 %, total pressures above. Hydrofluoric acid: own two-parameter
interpolation between the dilute limit of [FredenhagenWellmann1932]_, the value of [NRC1995]_,
the azeotrope and the pure liquid; 30 %. Nitric acid: activity model with [CleggBrimblecombe1990]_
up to 40 %; above from memory [PerryTables]_, weak. Ammonia: [TillnerRothFriend1998]_.
"""

from __future__ import annotations

__all__ = ["ALIASES", "ROWS"]

Row = tuple[
    str, str, tuple[float, ...], float, float, str, tuple[tuple[float, tuple[float, ...]], ...]
]

# fmt: off
ROWS: tuple[Row, ...] = (
    # name, solute, temperatures C, uncertainty factor, weak above percent, basis, rows
    ("hydrochloric acid", "hydrogen chloride", (20.0, 25.0, 30.0), 1.07, 38.0,
     "Zeisberg 1925, from memory, checked two ways", (
        (10.0, (0.5266, 0.8933, 1.48)),
        (12.0, (1.173, 1.933, 3.12)),
        (14.0, (2.613, 4.213, 6.666)),
        (16.0, (5.706, 9.133, 14.13)),
        (18.0, (12.67, 19.73, 30.4)),
        (20.0, (27.33, 42.66, 63.99)),
        (22.0, (60.0, 90.66, 136.0)),
        (24.0, (133.3, 198.7, 289.3)),
        (26.0, (289.3, 426.6, 607.9)),
        (28.0, (653.3, 939.9, 1320.0)),
        (30.0, (1413.0, 2013.0, 2800.0)),
        (32.0, (3133.0, 4333.0, 5933.0)),
        (34.0, (6733.0, 9133.0, 12270.0)),
        (36.0, (14070.0, 18930.0, 25060.0)),
        (38.0, (28000.0, 36930.0, 48000.0)))),
    ("hydrofluoric acid", "hydrogen fluoride", (20.0, 25.0, 30.0), 1.3, 70.0,
     "own interpolation between few published points", (
        (1.0, (2.89, 3.85, 5.08)),
        (2.0, (5.8, 7.73, 10.2)),
        (5.0, (15.0, 20.0, 26.4)),
        (10.0, (33.3, 44.4, 58.6)),
        (20.0, (98.0, 131.0, 172.0)),
        (30.0, (263.0, 350.0, 462.0)),
        (40.0, (727.0, 968.0, 1280.0)),
        (49.0, (1870.0, 2490.0, 3280.0)),
        (50.0, (2070.0, 2760.0, 3650.0)),
        (60.0, (5880.0, 7830.0, 10300.0)),
        (70.0, (15600.0, 20800.0, 27500.0)))),
    ("nitric acid solution", "nitric acid", (25.0,), 1.2, 40.0,
     "activity model to 40 %; above from memory, weak", (
        (10.0, (0.0761,)),
        (20.0, (0.595,)),
        (30.0, (3.1,)),
        (40.0, (13.5,)),
        (50.0, (52.0,)),
        (60.0, (161.0,)),
        (70.0, (547.0,)),
        (80.0, (1400.0,)),
        (90.0, (3600.0,)),
        (100.0, (7600.0,)))),
    ("ammonia solution", "ammonia", (20.0, 25.0, 30.0), 1.03, 30.0,
     "Tillner-Roth and Friend 1998, mixture equation of state", (
        (5.0, (3958.0, 5078.0, 6450.0)),
        (10.0, (9906.0, 12548.0, 15752.0)),
        (15.0, (18438.0, 23155.0, 28830.0)),
        (20.0, (30670.0, 38245.0, 47289.0)),
        (25.0, (48115.0, 59593.0, 73190.0)),
        (28.0, (61832.0, 76262.0, 93274.0)),
        (30.0, (72586.0, 89268.0, 108873.0)))),
)
# fmt: on

ALIASES = {
    "hcl(aq)": "hydrochloric acid",
    "muriatic acid": "hydrochloric acid",
    "hydrogen chloride solution": "hydrochloric acid",
    "hf(aq)": "hydrofluoric acid",
    "hydrogen fluoride solution": "hydrofluoric acid",
    "hno3(aq)": "nitric acid solution",
    "aqueous nitric acid": "nitric acid solution",
    "nh3(aq)": "ammonia solution",
    "aqueous ammonia": "ammonia solution",
    "ammonia water": "ammonia solution",
    "ammonium hydroxide": "ammonia solution",
}
