"""Lessons: two roofs that answer a question when one control is moved. Widgets need ipywidgets, loaded on use."""

from runoff.teaching.scenes import Scene as Scene
from runoff.teaching.scenes import Setting as Setting
from runoff.teaching.scenes import scene as scene
