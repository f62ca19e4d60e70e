"""Patterns of design storms as they are printed: options are typed in small letters and with hyphens."""

from __future__ import annotations

#: Options that hold a name.
_NAMES = {"chicago": "Chicago", "euler-II": "Euler II"}


def pattern_words(pattern: str) -> str:
    """Return the pattern of a storm in words.

    Parameters
    ----------
    pattern
        The option of `runoff.design_storm`, or what a storm of one's own calls itself.

    Examples
    --------
    >>> pattern_words("alternating-block"), pattern_words("euler-II"), pattern_words("type-II")
    ('alternating block', 'Euler II', 'type II')
    """
    return _NAMES.get(pattern, pattern.replace("-", " "))
