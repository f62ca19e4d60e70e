"""What is built: layers, build-up, outlets, materials, loads, quantities."""

from runoff.roof.build_up import BareSurface as BareSurface
from runoff.roof.build_up import BuildUp as BuildUp
from runoff.roof.build_up import Outlet as Outlet
from runoff.roof.build_up import Roof as Roof
from runoff.roof.column_parameters import column_parameters as column_parameters
from runoff.roof.layers import DrainageBoard as DrainageBoard
from runoff.roof.layers import FilterFleece as FilterFleece
from runoff.roof.layers import GrowingMedium as GrowingMedium
from runoff.roof.layers import Insulation as Insulation
from runoff.roof.layers import Membrane as Membrane
from runoff.roof.layers import Mulch as Mulch
from runoff.roof.layers import Planting as Planting
from runoff.roof.layers import ProtectionMat as ProtectionMat
