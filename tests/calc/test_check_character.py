import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum.iso7064 import mod_37_36

from gaugewright.calc.check_character import ALPHABET, check_character, code_holds
from gaugewright.errors import InputError

codes = st.text(ALPHABET, min_size=1, max_size=30)


@given(codes)
def test_the_character_is_that_of_another_hand_and_the_code_holds(code):
    assert check_character(code) == mod_37_36.calc_check_digit(code)
    assert code_holds(code + check_character(code))


@given(codes, st.data())
def test_every_single_character_changed_is_found(code, data):
    whole = code + check_character(code)
    place = data.draw(st.integers(0, len(whole) - 1))
    other = data.draw(st.sampled_from(ALPHABET.replace(whole[place], "")))
    assert not code_holds(whole[:place] + other + whole[place + 1 :])


def test_nearly_every_pair_of_neighbours_exchanged_is_found():
    missed, tried = 0, 0
    for first in ALPHABET:
        for second in ALPHABET.replace(first, ""):
            whole = f"7QK2MD{first}{second}1"
            whole += check_character(whole)
            missed += code_holds(whole[:6] + second + first + whole[8:])
            tried += 1
    assert tried == 36 * 35
    # Nearly all: the hybrid systems miss the pairs whose carries agree.
    assert missed / tried < 0.01


@pytest.mark.parametrize("code", ["", "G07a", "G-07", "Ä1", "G 07"])
def test_other_characters_are_refused_by_name(code):
    with pytest.raises(InputError, match="code"):
        check_character(code)
    with pytest.raises(InputError):
        code_holds(code)
