"""The layers of a planted roof, top to bottom, each with generic defaults and where they come from.

Every class is frozen, takes keywords only and refuses what it does not know. The unit is in the name of each field.
Defaults are starting points for a first look, most of them common practice or from memory; replace them by the data
sheet of what is bought, or by measurement.
"""

from runoff.roof.layers.draining import DrainageBoard as DrainageBoard
from runoff.roof.layers.draining import FilterFleece as FilterFleece
from runoff.roof.layers.draining import ProtectionMat as ProtectionMat
from runoff.roof.layers.growing import GrowingMedium as GrowingMedium
from runoff.roof.layers.knowing_layer import DrainingLayer as DrainingLayer
from runoff.roof.layers.knowing_layer import Layer as Layer
from runoff.roof.layers.lowermost import Insulation as Insulation
from runoff.roof.layers.lowermost import Membrane as Membrane
from runoff.roof.layers.planted import Mulch as Mulch
from runoff.roof.layers.planted import Planting as Planting

#: Every layer by its word, from top to bottom: the one list of layers.
LAYERS: dict[str, type[Layer]] = {
    one.word: one
    for one in (Planting, Mulch, GrowingMedium, FilterFleece, DrainageBoard, ProtectionMat, Insulation, Membrane)
}
