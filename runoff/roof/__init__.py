"""What is built: layers, build-up, outlets, materials, loads, quantities."""

from typing import TYPE_CHECKING

from runoff.first_use import on_demand

__getattr__, __dir__ = on_demand(
    __name__,
    {
        "assumed": ("assumptions",),
        "build_up": ("BuildUp",),
        "column_values": ("column_parameters",),
        "description": ("BareSurface", "Outlet", "Roof"),
        "layers": (
            "DrainageBoard",
            "FilterFleece",
            "GrowingMedium",
            "Insulation",
            "Membrane",
            "Mulch",
            "Planting",
            "ProtectionMat",
        ),
        "loads": ("CAUTION", "drained_mass_kg_per_m2", "rain_load_kn_per_m2", "roof_loads"),
        "materials_table": ("material", "material_ranges", "materials", "ranges"),
        "order_packing": ("OrderLine",),
        "order_rules": ("OrderRules",),
        "ordering": ("OrderList", "bill_of_quantities", "order_list"),
        "roof_file": ("read_roof", "roof_from_toml", "template_text"),
        "samples": ("open_sample_roof",),
    },
)

if TYPE_CHECKING:
    from runoff.roof.assumed import assumptions as assumptions
    from runoff.roof.build_up import BuildUp as BuildUp
    from runoff.roof.column_values import column_parameters as column_parameters
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
    from runoff.roof.loads import rain_load_kn_per_m2 as rain_load_kn_per_m2
    from runoff.roof.loads import roof_loads as roof_loads
    from runoff.roof.materials_table import material as material
    from runoff.roof.materials_table import material_ranges as material_ranges
    from runoff.roof.materials_table import materials as materials
    from runoff.roof.materials_table import ranges as ranges
    from runoff.roof.order_packing import OrderLine as OrderLine
    from runoff.roof.order_rules import OrderRules as OrderRules
    from runoff.roof.ordering import OrderList as OrderList
    from runoff.roof.ordering import bill_of_quantities as bill_of_quantities
    from runoff.roof.ordering import order_list as order_list
    from runoff.roof.roof_file import read_roof as read_roof
    from runoff.roof.roof_file import roof_from_toml as roof_from_toml
    from runoff.roof.roof_file import template_text as template_text
    from runoff.roof.samples import open_sample_roof as open_sample_roof
