"""Check characters and chances of enough, as printed elsewhere."""

import pytest

from gaugewright.calc.check_character import check_character, code_holds
from gaugewright.calc.spares import chance_of_enough, installed_for

# So many counts that the share is known: the binomial law.
KNOWN = 6e9


@pytest.mark.published(
    where="Global Release Identifier of the recording industry, whose check character is that of "
    "ISO/IEC 7064 MOD 37,36: A1-2425G-ABC1234002 printed with M",
    seen="the README of a library in another language that prints the same code, and a second one",
)
def test_a_release_identifier_has_the_check_character_printed_with_it():
    assert check_character("A12425GABC1234002") == "M"
    assert code_holds("A12425GABC1234002M")


@pytest.mark.published(
    where="the same identifier, further codes: A1-2425G-ABC1234011-K holds, "
    "A1-2425G-ABC1234011-X doesn't",
    seen="the README of a library for such identifiers",
)
def test_a_wrong_check_character_is_known():
    assert code_holds("A12425GABC1234011K")
    assert not code_holds("A12425GABC1234011X")


@pytest.mark.published(
    where="reference page of a data integration tool, function checksum ISO 7064 Mod. 37/36: "
    "123AB gives X, DADPIDA3897722461 gives J",
    seen="the page as stored",
)
def test_two_more_codes_have_the_character_printed_with_them():
    assert check_character("123AB") == "X"
    assert check_character("DADPIDA3897722461") == "J"


@pytest.mark.published(
    where="MathWorld, Newton-Pepys Problem, eqs. 4 to 6: at least one six of 6 dice 31031/46656, "
    "two of 12 dice 0.6187, three of 18 dice 0.5973",
    seen="the page as stored",
)
@pytest.mark.parametrize(
    ("installed", "wanted", "printed"), [(6, 1, 31031 / 46656), (12, 2, 0.6187), (18, 3, 0.5973)]
)
def test_chance_of_enough_sixes(installed, wanted, printed):
    found = chance_of_enough(installed, wanted, KNOWN / 6, KNOWN)
    assert found == pytest.approx(printed, abs=0.00005)


@pytest.mark.published(
    where="the same page: as many dice as give two sixes with 0.6187 are 12, so one fewer doesn't",
    seen="the page as stored",
)
def test_fewest_dice_for_two_sixes():
    assert installed_for(2, KNOWN / 6, KNOWN, 0.618) == 12


@pytest.mark.published(
    where="Adhikari and Pitman, Probability for Data Science, 21.2.1: with the uniform prior the "
    "number of heads in n tosses is uniform on 0, 1, ..., n",
    seen="the open textbook's page as stored",
)
def test_with_nothing_known_every_number_is_as_likely():
    for wanted in range(10):
        found = chance_of_enough(9, wanted, 1.0, 2.0)
        assert found == pytest.approx((10 - wanted) / 10, rel=1e-12)
