"""The design desk: controls for a roof, and beside them what its climate and a storm make of it. Needs ipywidgets, loaded on use."""

from runoff.desk.workplace import DesignDesk as DesignDesk
from runoff.desk.workplace import design_desk as design_desk
