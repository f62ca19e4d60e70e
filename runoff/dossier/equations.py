"""The equations of the method page, drawn by matplotlib as SVG, each with words for those who cannot see it."""

from __future__ import annotations

import functools
import io
from dataclasses import dataclass
from typing import Any

from runoff.dossier.pictures import data_uri


@dataclass(frozen=True)
class Equation:
    """One line of mathtext, and the same in words."""

    text: str
    words: str


_SIZE_PT, _EDGE_PT = 12.0, 2.0
#: Equations by name, in the order of the daily step.
EQUATIONS: dict[str, Equation] = {
    "surface": Equation(
        r"$T = \max(0,\ U + P - U_{max})$",
        "Throughfall T is what rain P and the water U on canopy and mulch exceed the capacity U max.",
    ),
    "percolation": Equation(
        r"$F = \min(\max(0,\ S - S_{fc}),\ K_f D)$",
        "Percolation F is the water above field capacity S fc, at most what the fleece passes in a day, K f times D.",
    ),
    "drain": Equation(
        r"$q_d = (1 - b)\ \min\!\left(3600\,\dfrac{q_p}{L},\ 3600\,\dfrac{Q_o}{A}\right)$",
        "Drainage capacity q d is one minus the blocked share b, times the smaller of 3600 times the in-plane flow q p "
        "over the flow length L, and 3600 times the outlet capacity Q o over the area A.",
    ),
    "stress": Equation(
        r"$K_s = \dfrac{S - S_{wp}}{(1 - p)\,(S_{fc} - S_{wp})},\quad 0 \leq K_s \leq 1$",
        "The stress factor K s is water above the wilting point over one minus p times plant-available water, kept "
        "between 0 and 1.",
    ),
    "evaporation": Equation(
        r"$E = K_s\ K_c\ (E_0 - E_U)$",
        "Evapotranspiration E from the medium is the stress factor K s times the crop coefficient K c times what is "
        "left of the reference evapotranspiration E 0 after evaporation E U from canopy and mulch.",
    ),
    "balance": Equation(
        r"$\sum P = \sum E + \sum Q + \Delta(N + U + S + C + M + W)$",
        "The sum of rain P equals the sum of evapotranspiration E, the sum of overflow Q, and the change of all "
        "stores.",
    ),
    "retention": Equation(
        r"$\mathrm{retention} = 1 - \dfrac{\sum Q}{\sum P}$",
        "Retention is one minus all overflow Q over all rain P.",
    ),
    "capacity": Equation(
        r"$S_{cap} = U_{max} + (\theta_{fc} - \theta_{wp})\,z + C_{max} + M_{max}$",
        "Storage capacity is the surface capacity U max, plus field capacity minus wilting point times the depth z, "
        "plus cups C max, plus mat M max.",
    ),
    "detention": Equation(
        r"$\dfrac{\mathrm{d}h}{\mathrm{d}t} = i - k\,h^n$",
        "In a storm the mobile water h of the medium changes by the inflow i minus k times h to the power n.",
    ),
    "curve_number": Equation(
        r"$Q = \dfrac{(P - 0.2\,S)^2}{P + 0.8\,S},\quad CN = \dfrac{25400}{254 + S}$",
        "Runoff Q of a storm P with potential retention S in millimetres is P minus 0.2 S squared over P plus 0.8 S; "
        "the curve number C N is 25400 over 254 plus S.",
    ),
}


@functools.cache
def equation_image(name: str) -> tuple[str, str]:
    """Return one equation as an image address (data URI) and its words."""
    import matplotlib as mpl
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure
    from matplotlib.font_manager import FontProperties
    from matplotlib.mathtext import MathTextParser

    equation = EQUATIONS[name]
    look: dict[Any, Any] = {"svg.hashsalt": f"equation {name}", "mathtext.fontset": "stix", "svg.fonttype": "path"}
    with mpl.rc_context(look):
        # the size of the drawing is asked of the parser: drawing twice to find it out would take twice as long
        font = FontProperties(size=_SIZE_PT)
        width, height, depth, *_ = MathTextParser("path").parse(equation.text, dpi=72, prop=font)
        wide, high = width + 2 * _EDGE_PT, height + 2 * _EDGE_PT
        figure = Figure(figsize=(wide / 72.0, high / 72.0))
        FigureCanvasSVG(figure)
        figure.text(_EDGE_PT / wide, (_EDGE_PT + depth) / high, equation.text, fontproperties=font)
        buffer = io.BytesIO()
        figure.savefig(buffer, format="svg", transparent=True, metadata={"Date": None, "Creator": None})
    return data_uri(buffer.getvalue()), equation.words
