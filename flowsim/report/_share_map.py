"""Maps of shares on a log scale."""

from __future__ import annotations

import math
from dataclasses import dataclass

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import Normalize
from matplotlib.image import AxesImage
from matplotlib.patches import Patch

from flowsim._arrays import FloatArray
from flowsim.report._kit import add_box
from flowsim.report._units import number
from flowsim.report._views import View
from flowsim.simulate.shares import RESOLVED

__all__ = [
    "ESCAPE",
    "INGRESS",
    "UNRESOLVED",
    "ShareScale",
    "draw_shares",
    "percent",
    "power",
    "ramp_bar",
    "share_bar",
]

LEAST = 1e-9  # what is finer is of no use to anyone
UNRESOLVED = "#8f84a3"  # off the colours of the map, neither pale nor dark


@dataclass(frozen=True)
class ShareScale:
    """How a map of shares is coloured.

    Parameters
    ----------
    low : float
        Smallest share with a colour of its own. [-]
    label : str
        Of the colour bar.
    below, least : str
        What the one colour below it means, in full and beside the colour bar.
    ticks : tuple of str
        One per power of ten from the smallest to 1.
    """

    low: float
    label: str
    below: str
    least: str
    ticks: tuple[str, ...]

    @property
    def norm(self) -> Normalize:
        """From the logarithm of a share to 0..1."""
        return Normalize(math.log10(self.low), 0.0)

    @property
    def below_patch(self) -> Patch:
        """Entry of a legend for what is below the scale."""
        return Patch(facecolor=UNRESOLVED, label=self.below)


ESCAPE = ShareScale(
    RESOLVED,
    "share of the vapour that gets into the room",
    "below 0.1 %: not resolved, which is not the same as contained",
    "below",
    ("0.1 %", "1 %", "10 %", "100 %"),
)
INGRESS = ShareScale(
    1e-6,
    "share of room air",
    "below 1e-6",
    "below",
    ("1e-6", "1e-5", "1e-4", "0.1 %", "1 %", "10 %", "100 %"),
)


def percent(share: float) -> str:
    """Return a share that gets out in words, nothing finer than the model can tell.

    Parameters
    ----------
    share : float
        Any share. [-]

    Returns
    -------
    str
        In percent.
    """
    return "below 0.1 %" if share < RESOLVED else f"{number(100.0 * share, 2)} %"


def power(share: float) -> str:
    """Return a share over many powers of ten.

    Parameters
    ----------
    share : float
        Any share. [-]

    Returns
    -------
    str
        In percent from 0.1 % on, else as 2e-5; nothing finer than 1e-9.
    """
    if share >= RESOLVED:
        return f"{number(100.0 * share, 2)} %"
    if share < LEAST:
        return f"below {LEAST:.0e}".replace("e-0", "e-")
    mantissa, _, exponent = f"{share:.0e}".partition("e")
    return f"{mantissa}e{int(exponent)}"


def draw_shares(axes: Axes, view: View, values: FloatArray, scale: ShareScale) -> AxesImage:
    """Draw a layer of shares by cell.

    Parameters
    ----------
    axes : Axes
        Map in metres. [m]
    view : View
        What is seen. [m]
    values : array, shape (nx, ny, nz)
        Shares, nan in solids; what is 0 or less counts as below the scale. [-]
    scale : ShareScale
        Colours. [-]

    Returns
    -------
    AxesImage
        The image.
    """
    layer = np.log10(np.fmax(view.of(values), 0.1 * scale.low))
    solid = ~np.isfinite(view.of(values))
    colours = mpl.colormaps["cividis"].with_extremes(under=UNRESOLVED, bad="#d9d9d9")
    return axes.imshow(
        np.ma.array(layer, mask=solid).T,
        origin="lower",
        extent=view.extent,
        interpolation="nearest",
        cmap=colours,
        norm=scale.norm,
        zorder=1,
    )


def _bar_axis(bar: Axes, label: str) -> None:
    """Put the ticks of a colour bar to its right."""
    bar.set_xticks([])
    bar.yaxis.tick_right()
    bar.yaxis.set_label_position("right")
    bar.set_ylabel(label)
    bar.spines[:].set_visible(True)


def ramp_bar(bar: Axes, high: float, label: str) -> None:
    """Draw the colour bar of a map from 0 on.

    Parameters
    ----------
    bar : Axes
        Place for it. [-]
    high : float
        Its upper end, in the unit of the label. [any]
    label : str
        Quantity with its unit. [text]
    """
    ramp = np.linspace(0.0, 1.0, 256)[:, None]
    bar.imshow(ramp, origin="lower", aspect="auto", extent=(0.0, 1.0, 0.0, high))
    _bar_axis(bar, label)


def share_bar(bar: Axes, scale: ShareScale) -> None:
    """Draw the colour bar of a map of shares, with a block for what is below it.

    Parameters
    ----------
    bar : Axes
        Place for it. [-]
    scale : ShareScale
        Colours. [-]
    """
    low = math.log10(scale.low)
    block = 0.12 * low
    ramp = np.linspace(low, 0.0, 256)[:, None]
    bar.imshow(ramp, cmap="cividis", origin="lower", aspect="auto", extent=(0.0, 1.0, low, 0.0))
    add_box(
        bar, (0.0, low + block), (1.0, -block), facecolor=UNRESOLVED, edgecolor="#222222", lw=0.8
    )
    bar.set(xlim=(0.0, 1.0), ylim=(low + block, 0.0))
    bar.set_yticks([low + 0.5 * block, *range(round(low), 1)], [scale.least, *scale.ticks])
    _bar_axis(bar, scale.label)
