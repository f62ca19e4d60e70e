"""The control block of the lesson at the sizes of screens it is taught on: what a test and a trial measure."""

from __future__ import annotations

from typing import Any

LESSON = ".runoff-lesson:has(.widget-toggle-buttons)"
#: Width and height of a laptop, an old projector, and a new one, dots.
SCREENS = {"1366": (1366, 768), "1024": (1024, 768), "1920": (1920, 1080)}
_MEASURE = """one => {
  const area = document.querySelector('.jp-WindowedPanel-outer') || document.querySelector('.jp-Notebook');
  const room = area.getBoundingClientRect(), block = one.getBoundingClientRect(), picture = one.querySelector('svg[role=img]').getBoundingClientRect();
  const type = [...one.querySelectorAll('svg[role=img] text')].map(text => parseFloat(text.getAttribute('font-size')));
  const dots = picture.height / one.querySelector('svg[role=img]').viewBox.baseVal.height;
  return {room: room.height, block: block.height, top: block.top - room.top, bottom: block.bottom - room.bottom, picture: [picture.width, picture.height],
    type: Math.min(...type) * Math.min(dots, picture.width / one.querySelector('svg[role=img]').viewBox.baseVal.width)};
}"""


def at_size(page: Any, screen: str) -> Any:
    """Give the page the size of a screen and bring the control block into view; return the block."""
    wide, high = SCREENS[screen]
    page.set_viewport_size({"width": wide, "height": high})
    block = page.locator(LESSON).first
    page.wait_for_timeout(800)  # the notebook lays itself out anew
    block.evaluate("one => one.scrollIntoView({block: 'start'})")
    page.wait_for_timeout(300)
    return block


def measured(block: Any) -> dict[str, Any]:
    """Return heights of the notebook's room, the block and the smallest type of the picture, dots, and where the block stands in the room."""
    found: dict[str, Any] = block.evaluate(_MEASURE)
    return found
