"""What is built: layers, build-up, outlets, materials, loads, quantities."""

from runoff.roof.build_up import BuildUp as BuildUp
from runoff.roof.column_parameters import column_parameters as column_parameters
from runoff.roof.description import BareSurface as BareSurface
from runoff.roof.description import Outlet as Outlet
from runoff.roof.description import Roof as Roof
from runoff.roof.layers import DrainageBoard as DrainageBoard
from runoff.roof.layers import FilterFleece as FilterFleece
from runoff.roof.layers import GrowingMedium as GrowingMedium
from runoff.roof.layers import Insulation as Insulation
from runoff.roof.layers import Membrane as Membrane
from runoff.roof.layers import Mulch as Mulch
from runoff.roof.layers import Planting as Planting
from runoff.roof.layers import ProtectionMat as ProtectionMat
from runoff.roof.loads import CAUTION as CAUTION
from runoff.roof.loads import drained_mass_kg_per_m2 as drained_mass_kg_per_m2
from runoff.roof.loads import loads_table as loads_table
from runoff.roof.loads import rain_load_kn_per_m2 as rain_load_kn_per_m2
from runoff.roof.loads import roof_loads as roof_loads
from runoff.roof.materials import material as material
from runoff.roof.materials import material_ranges as material_ranges
from runoff.roof.materials import materials as materials
from runoff.roof.materials import ranges as ranges
from runoff.roof.roof_file import read_roof as read_roof
from runoff.roof.roof_file import roof_from_toml as roof_from_toml
from runoff.roof.roof_file import template_text as template_text
from runoff.roof.samples import open_sample_roof as open_sample_roof
