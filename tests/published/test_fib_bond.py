"""fib Model Code 2010: the local law of bond, as an open program checks it."""

import pytest

from gaugewright.calc import bond

SEEN = (
    "the tests of the public repository fib-international/structuralcodes at 03b6729, "
    "test_mc2010_interface_concrete_steel_rebar.py; not the code"
)
LAWS = {"good": bond.bond_law_fib2010_good, "other": bond.bond_law_fib2010_other}


@pytest.mark.published(
    where="fib Model Code 2010, table 6.1-1, bond strength: good conditions at f_cm 30 and 55 MPa "
    "13.69306394 and 18.54049622 MPa, other at 21.3 and 60 MPa 5.76899038 and 9.682458366 MPa",
    seen=SEEN,
)
@pytest.mark.parametrize(
    ("conditions", "mean_strength", "printed"),
    [
        ("good", 30e6, 13.69306394),
        ("good", 55e6, 18.54049622),
        ("other", 21.3e6, 5.76899038),
        ("other", 60e6, 9.682458366),
    ],
)
def test_bond_strength(conditions, mean_strength, printed):
    law = LAWS[conditions](mean_strength, 8e-3)
    assert law.bond_strength / 1e6 == pytest.approx(printed, abs=1e-7)


@pytest.mark.published(
    where="fib Model Code 2010, table 6.1-1: slips 1.0, 2.0 mm (good) and 1.8, 3.6 mm (other), "
    "then the clear rib spacing; exponent 0.4, rest 0.4 of the strength",
    seen=SEEN + "; exponent and rest from memory",
)
@pytest.mark.parametrize(
    ("conditions", "slips"), [("good", (1.0, 2.0, 10.0)), ("other", (1.8, 3.6, 15.0))]
)
def test_slips_of_the_local_law(conditions, slips):
    law = LAWS[conditions](36e6, slips[2] * 1e-3)
    found = (law.first_slip, law.second_slip, law.third_slip)
    assert [slip * 1e3 for slip in found] == pytest.approx(slips)
    quarter, most, level, rest = bond.local_bond_stress(
        [slips[0] * 0.25e-3, slips[0] * 1e-3, slips[1] * 1e-3, slips[2] * 2e-3], law
    )
    assert quarter / most == pytest.approx(0.25**0.4)
    assert level == pytest.approx(most)
    assert rest / most == pytest.approx(0.4)


@pytest.mark.published(
    where="fib Model Code 2010, 6.1.1, mean bond stress at yield: (500 MPa, 160 mm, 16 mm) 12.5, "
    "(435 MPa, 150 mm, 30 mm) 21.75 MPa",
    seen=SEEN,
)
def test_mean_bond_stress_at_yield():
    found = bond.bond_stress_at_yield([500e6, 435e6], [0.016, 0.030], [0.160, 0.150])
    assert found / 1e6 == pytest.approx([12.5, 21.75])
