"""What rules of offices credit to a described roof, against the pages they were read on."""

import runoff
from runoff.dossier.office_rules import RULES
from tests.published.cases import each_row, hold, read_cases


@each_row(read_cases("office_rules.csv"))
def test_credit_by_the_rule_of_an_office(row: dict) -> None:
    # the sample roof: field capacity 0.33, wilting point 0.08, porosity 0.60; 15 + 80 + 1 + 25 mm above the waterproofing
    roof = runoff.open_sample_roof("cups").replace({"medium.depth_mm": float(row["medium_depth_mm"])})
    credit = RULES[row["rule"]].credit(roof)
    hold(credit.low_mm if row["end"] == "low" else credit.high_mm, row)
