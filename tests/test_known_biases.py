"""What is known to be off: every row has a direction, a size or the word that none is known, and a source."""

from runoff.sizing.measured_against import JudgedRoof, all_comparisons, known_biases, model_error


def test_every_row_says_which_way_how_much_and_who() -> None:
    rows = known_biases()
    ways = {"too much", "too much or even", "too little", "even", "either", "peaks too low", "peaks too high"}
    assert {row["ours_keeps"] for row in rows} <= ways
    assert all(row["size"] and row["source"] for row in rows)
    said = " ".join(row["bias"].lower() for row in rows)
    for word in ("ageing", "covering", "watering", "wind-driven", "snow", "steep", "peaks"):
        assert word in said


def test_the_first_row_is_formed_from_the_judged_roofs() -> None:
    error = model_error()
    assert error is not None
    first = known_biases()[0]
    assert first["size"].startswith(f"{100 * error.mean:+.1f} points on average over {error.roofs} roofs")
    assert first["ours_keeps"] == ("too little" if error.mean < 0 else "too much")


def test_seasons_told_are_those_of_the_table() -> None:
    def off(site: str, season: str) -> str:
        one: JudgedRoof = next(x for x in all_comparisons() if x.site == site and season in x.quantity)
        return f"{one.difference:+.1f}"

    told = {row["bias"].split(" half")[0]: row["size"] for row in known_biases() if " half of the year" in row["bias"]}
    assert (
        told["Warm"] == f"{off('Berlin', 'April')} points (Berlin), {off('Neubrandenburg', 'April')} (Neubrandenburg)"
    )
    assert (
        told["Cold"]
        == f"{off('Berlin', 'October')} points (Berlin), {off('Neubrandenburg', 'October')} (Neubrandenburg)"
    )
