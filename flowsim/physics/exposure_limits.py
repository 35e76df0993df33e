"""Published exposure limits: every one that applies to a substance, with publisher and year."""

from __future__ import annotations

from dataclasses import dataclass

from flowsim.physics._exposure_limit_table import LIMITS
from flowsim.physics.substances import substance
from flowsim.physics.vapour import mass_concentration

__all__ = ["ExposureLimit", "applicable_limits", "published_limits"]

HOUR, MINUTE = 3600.0, 60.0
AVERAGING = {
    "8 h": 8.0 * HOUR,
    "10 h": 10.0 * HOUR,
    "15 min": 15.0 * MINUTE,
    "10 min once per 8 h": 10.0 * MINUTE,
    "30 min escape": 0.0,
    "instant": 0.0,
    "": 0.0,
}
EUROPEAN_LISTS = 293.15  # K, at which they turn ppm into mass
OTHER_LISTS = 298.15  # K


@dataclass(frozen=True)
class ExposureLimit:
    """One published limit.

    Parameters
    ----------
    substance : str
        Name of the substance.
    publisher : str
        Publisher and list.
    kind : str
        TWA, STEL, ceiling, peak, IDLH, or none where the publisher gives no limit.
    averaging_text : str
        Averaging time as printed.
    averaging_time : float
        Averaging time, 0 for a limit at every moment. [s]
    ppm : float or None
        Limit. [ppm]
    printed : float or None
        Mass concentration as printed, where it is. [kg/m3]
    year : str
        Year, or how old the list is.
    note : str
        Note of the publisher or of the table.
    status : str
        How the number is known.

    Notes
    -----
    Publishers: [OSHA1910]_, [NIOSHGuide]_, [ACGIH]_, [EUIOELV]_, [CalOSHA]_, [EPATSCA]_ and Ontario
    [ChemicalsLibrary]_. Valid as a design aid: a limit in a table is not the limit in force where
    the reader works. IDLH marks danger to life, not a limit to work at; those set at 10 % of
    the lower flammable limit say nothing of toxicity.
    """

    substance: str
    publisher: str
    kind: str
    averaging_text: str
    averaging_time: float
    ppm: float | None
    printed: float | None
    year: str
    note: str
    status: str

    @property
    def applies(self) -> bool:
        """Whether it is a limit that neither was replaced nor is a proposal."""
        replaced = "SUPERSEDED" in self.note or "proposal" in self.publisher
        return self.ppm is not None and not replaced

    @property
    def reference_temperature(self) -> float:
        """Temperature at which the publisher turns ppm into mass. [K]"""
        return EUROPEAN_LISTS if self.publisher.startswith("EU ") else OTHER_LISTS

    def mass_concentration(self, temperature: float | None = None) -> float | None:
        """Return the limit as mass in a volume of air.

        Parameters
        ----------
        temperature : float or None
            Absolute temperature; none for that of the publisher. [K]

        Returns
        -------
        float or None
            Mass concentration, none without a limit. [kg/m3]

        Raises
        ------
        RangeError
            If the temperature is not positive.
        """
        if self.ppm is None:
            return None
        used = self.reference_temperature if temperature is None else temperature
        return mass_concentration(self.ppm, substance(self.substance).molar_mass, used)


def published_limits(name: str) -> tuple[ExposureLimit, ...]:
    """Return every published limit of a substance, also those replaced and proposed.

    Parameters
    ----------
    name : str
        Name of the substance.

    Returns
    -------
    tuple of ExposureLimit
        In the order of the table; empty where it holds none (water).

    Raises
    ------
    RangeError
        If the substance is unknown; the message gives the nearest names.

    Notes
    -----
    Sources as `ExposureLimit`. Valid for the lists and years named in each.
    """
    found = substance(name).name
    milligram = 1e-6
    return tuple(
        ExposureLimit(
            found,
            publisher,
            kind,
            text,
            AVERAGING[text],
            parts,
            None if printed is None else printed * milligram,
            year,
            note,
            status,
        )
        for publisher, kind, text, parts, printed, year, note, status in LIMITS.get(found, ())
    )


def applicable_limits(name: str) -> tuple[ExposureLimit, ...]:
    """Return the published limits of a substance against which a result is to be held.

    Parameters
    ----------
    name : str
        Name of the substance.

    Returns
    -------
    tuple of ExposureLimit
        Without those replaced, proposed, or without a number; lowest first.

    Raises
    ------
    RangeError
        If the substance is unknown; the message gives the nearest names.

    Notes
    -----
    Sources as `ExposureLimit`; valid as `published_limits`.
    """
    found = [limit for limit in published_limits(name) if limit.applies]
    return tuple(sorted(found, key=lambda limit: limit.ppm or 0.0))
