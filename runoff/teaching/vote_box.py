"""The class votes: a question with buttons that count hands, shown while play waits. Needs ipywidgets."""

from __future__ import annotations

import html
from collections.abc import Callable
from typing import Any

import ipywidgets as widgets

from runoff.teaching.class_votes import Question


class VoteBox:
    """A question above the picture, hidden until it is asked.

    Parameters
    ----------
    show
        Called when the class wants to see what happens.
    """

    def __init__(self, show: Callable[[], Any]) -> None:
        self.text = widgets.HTML()
        self.choices = [widgets.Button(layout=widgets.Layout(width="auto")) for _ in range(3)]
        self.show = widgets.Button(description="Show what happens", layout=widgets.Layout(width="auto"))
        self.skip = widgets.Button(description="Skip", layout=widgets.Layout(width="auto"))
        self.question: Question | None = None
        self.votes = [0, 0, 0]
        for number, button in enumerate(self.choices):
            button.on_click(lambda _button, number=number: self._vote(number))
        self.show.on_click(lambda _button: show())
        self.skip.on_click(lambda _button: self.close())
        row = widgets.HBox([*self.choices, self.show, self.skip], layout=widgets.Layout(flex_flow="row wrap"))
        self.box = widgets.VBox([self.text, row], layout=widgets.Layout(display="none", border="2px solid #222222"))

    def ask(self, question: Question, when: str) -> None:
        """Show a question and wait for votes."""
        self.question, self.votes = question, [0, 0, 0]
        self._say(f"{when}. What happens next? {question.text} Vote first.")
        self._label()
        self.show.layout.display, self.skip.description = "", "Skip"
        self.box.layout.display = ""

    def tell(self, words: str) -> None:
        """Say what came."""
        self._say(words)
        self._label(told=True)
        self.show.layout.display, self.skip.description = "none", "Go on"
        self.box.layout.display = ""

    def close(self) -> None:
        """Put the question away."""
        self.question = None
        self.box.layout.display = "none"

    def _vote(self, number: int) -> None:
        self.votes[number] += 1
        self._label()

    def _label(self, *, told: bool = False) -> None:
        if self.question is None:
            return
        for number, (button, words) in enumerate(zip(self.choices, self.question.choices, strict=True)):
            right = "\u2713 " if told and number == self.question.right else ""
            count = f": {self.votes[number]}" if self.votes[number] else ""
            button.description, button.disabled = f"{right}{words}{count}", told

    def _say(self, words: str) -> None:
        self.text.value = f'<p role="status" style="font-weight:bold;margin:.2em .4em">{html.escape(words)}</p>'
